"""The word of a release, in every format, stands for a release and for nothing else."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from tests.cli.calling import Calling, calling, prescreed, put
from tests.example import SEEN, SOUND

__all__ = ["calling"]

FORMATS = ("text", "markdown", "html", "csv", "junit", "sarif", "annotations", "code-quality",
           "job-summary", "json")  # fmt: skip
UNPROVEN = SOUND.replace(SEEN, "")
HELD = SOUND.replace("length: 88 m", "length: 128 m")


@cache
def reports(design: str) -> dict[str, str]:
    """The reports in each format, written by one call."""
    with TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "house.yaml").write_text(design, "utf-8")
        ways = [word for form in FORMATS for word in ("--format", form, "--output", f"{form}.out")]
        assert prescreed("check", "house.yaml", *ways, cwd=folder).returncode in (0, 1)
        return {form: (folder / f"{form}.out").read_text("utf-8") for form in FORMATS}


def told(design: str, form: str) -> str:
    """The report, without a page's styles and the words of its filters."""
    page = reports(design)[form]
    return re.sub(r"<(style|select|script)\b.*?</\1>", "", page, flags=re.DOTALL).casefold()


@pytest.mark.parametrize("form", FORMATS)
def test_it_stands_for_nothing_else(form: str) -> None:
    for design in (UNPROVEN, HELD):
        assert not re.search(r"\breleased?\b", told(design, form))


PAPERS = {
    "site sheet": ("site-sheet", "house.yaml", "--output", "papers/sheet.html"),
    "hand-over": ("hand-over", "house.yaml", "--output", "papers/pack.html"),
    "quantities": ("quantities", "house.yaml", "--format", "html", "--output", "papers/q.html"),
    "letters": ("review", "house.yaml", "--output", "papers"),
    "overview": ("check", "house.yaml", "--format", "html", "--output", "papers/"),
}
"""What goes out besides a report, and the words that ask for it."""
MIXED = (UNPROVEN, HELD)


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("design", MIXED, ids=["unproven", "hold"])
def test_no_paper_has_its_word_or_its_colour_for_anything_else(
    call: Calling, paper: str, design: str
) -> None:
    put("house.yaml", design)
    Path("papers").mkdir()
    call(*PAPERS[paper])
    made = [one for one in Path("papers").rglob("*") if one.suffix in (".html", ".md")]
    # A design with a critical fail has no sheet; all else is written.
    assert made or (paper, design) == ("site sheet", HELD)
    for one in made:
        page = one.read_text("utf-8")
        for words in re.findall(r'class="([^"]*)"', page):
            assert "release" not in words.split(), one
        page = re.sub(r"<(style|select|script)\b.*?</\1>", "", page, flags=re.DOTALL)
        assert not re.search(r"\breleased?\b", page, re.IGNORECASE), one


def test_a_sound_design_that_is_not_laid_yet_is_not_handed_over_in_its_colour(
    call: Calling,
) -> None:
    """It is released for its own stage, which is not that of a hand-over."""
    put("house.yaml", SOUND.replace("stage: installed", "stage: design"))
    call("hand-over", "house.yaml", "--output", "pack.html")
    page = Path("pack.html").read_text("utf-8")
    assert "NOT READY TO BE HANDED OVER" in page
    assert 'class="word release"' not in page


@pytest.mark.parametrize("form", ["text", "html", "csv", "json"])
def test_it_stands_for_a_release(form: str) -> None:
    assert re.search(r"\breleased?\b", told(SOUND, form))
