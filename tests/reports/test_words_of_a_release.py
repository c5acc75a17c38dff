"""The word of a release, in every format, stands for a release and for nothing else."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.cli.calling import Calling, calling, put
from tests.example import SEEN, SOUND

__all__ = ["calling"]

FORMATS = ("text", "markdown", "html", "csv", "junit", "sarif", "annotations", "code-quality",
           "job-summary", "json")  # fmt: skip
UNPROVEN = SOUND.replace(SEEN, "")
HELD = SOUND.replace("length: 88 m", "length: 128 m")


def told(call: Calling, design: str, form: str) -> str:
    """The report, without a page's styles and the words of its filters."""
    put("house.yaml", design)
    call("check", "house.yaml", "--format", form, "--output", "report")
    page = Path("report").read_text("utf-8")
    return re.sub(r"<(style|select|script)\b.*?</\1>", "", page, flags=re.DOTALL).casefold()


@pytest.mark.parametrize("form", FORMATS)
def test_it_stands_for_nothing_else(call: Calling, form: str) -> None:
    for design in (UNPROVEN, HELD):
        assert not re.search(r"\breleased?\b", told(call, design, form))


@pytest.mark.parametrize("form", ["text", "html", "csv", "json"])
def test_it_stands_for_a_release(call: Calling, form: str) -> None:
    assert re.search(r"\breleased?\b", told(call, SOUND, form))
