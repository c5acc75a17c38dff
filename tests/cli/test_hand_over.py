"""`prescreed hand-over`: the papers that stay with the house say what is so, and no more."""

from __future__ import annotations

import hashlib
import html
import json
import re
import zlib
from datetime import date, timedelta
from pathlib import Path

import pytest

from tests.cli.calling import Calling, calling, put
from tests.example import SOUND

__all__ = ["calling"]

EXAMPLE = Path(__file__).parents[2] / "example_designs" / "orchard-row-4-installed.yaml"


def words(page: str) -> str:
    """The page's text."""
    text = re.sub(r"<style>.*?</style>", "", page, flags=re.DOTALL)
    text = re.sub(r"</(strong|bdi)>", "", text)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).split())


def _unpacked(stream: bytes) -> bytes:
    try:
        return zlib.decompress(stream)
    except zlib.error:
        return b""


def folder(call: Calling, design: str) -> tuple[str, str, str]:
    """What the owner gets, the record, and what was said besides."""
    put("house.yaml", design)
    done = call("hand-over", "house.yaml", "--output", "pack")
    assert done.status == 0, done.err
    owner, record = (Path("pack", name).read_text() for name in ("owner.html", "record.html"))
    return words(owner), words(record), done.err


def test_a_finished_job_is_handed_over_with_its_records(call: Calling) -> None:
    owner, record, said = folder(call, EXAMPLE.read_text())
    assert said == ""
    assert "RELEASE May it be handed over?" in record
    for told in (
        "living 20 °C tile, 0.03 m²·K/W",
        "Never drill, nail or screw",
        "45 mm of screed over them",
        "made for 42 °C",
    ):
        assert told in owner, told
    for told in (
        "D1 down 1 living 80 m 200",
        "1.5 l/min met",
        "4.05 bar 15.1 °C",
        "test pressure 4 bar; 4 bar to 6 bar. met EN 1264-4",
        "From 2025-11-17: 25 °C for 3 days, then 42 °C for 4 days.",
        "as wanted, an invented fitter, 2025-11-14",
    ):
        assert told in record, told


def test_the_design_lies_in_the_pack_and_an_audit_starts_from_it(call: Calling) -> None:
    folder(call, EXAMPLE.read_text())
    kept = Path("pack/design.yaml").read_bytes()
    assert kept == EXAMPLE.read_bytes()
    manifest = json.loads(Path("pack/manifest.json").read_text())
    assert manifest["file"]["digest"] == f"sha256:{hashlib.sha256(kept).hexdigest()}"
    assert manifest["rules"]["edition"]
    assert manifest["verdict"] == "release"
    assert call("audit", "pack").status == 0


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (("stage: installed", "stage: design"), "The design's stage is 'design'"),
        (("pressure: 4 bar,", "pressure: 2.5 bar,"), ""),
    ],
)
def test_what_is_not_ready_is_never_shown_as_released(
    call: Calling, change: tuple[str, str], told: str
) -> None:
    design = EXAMPLE.read_text().replace(*change)
    if change[0] not in EXAMPLE.read_text():
        design = EXAMPLE.read_text().replace("pressure: 4 bar", "pressure: 2.5 bar")
    owner, record, said = folder(call, design)
    for text in (owner, record):
        assert "NOT READY TO BE HANDED OVER" in text
        assert "RELEASE" not in text
        assert told in text
    assert said.startswith("house.yaml: not ready to be handed over.")


def test_what_is_not_recorded_is_said_so(call: Calling) -> None:
    design = re.sub(r"\nheat_up:.*?\n(?=\w)", "\n", EXAMPLE.read_text(), flags=re.DOTALL)
    design = re.sub(r"\nbalance:.*?\n(?=\w|#)", "\n", design, flags=re.DOTALL)
    _, record, _ = folder(call, design)
    assert "No first heating is recorded." in record
    assert "not recorded open: data missing" in record
    assert "What is not known" in record


def test_names_are_text_and_nothing_but_text(call: Calling) -> None:
    folder(call, SOUND.replace("name: Test House", "name: '<script>x</script>'"))
    for name in ("owner.html", "record.html"):
        assert "<script>" not in Path("pack", name).read_text()


@pytest.mark.long
def test_one_page_and_one_pdf(call: Calling) -> None:
    put("house.yaml", EXAMPLE.read_text())
    assert call("hand-over", "house.yaml", "--output", "all.html").status == 0
    text = words(Path("all.html").read_text())
    assert "Your floor heating" in text
    assert "Record: Orchard Row 4" in text
    try:
        import weasyprint  # noqa: F401
    except (ImportError, OSError) as missing:
        pytest.skip(f"the extra 'pdf', or a library that it needs, is not there: {missing}")
    done = call("hand-over", "house.yaml", "--output", "all.pdf")
    assert done.status == 0, done.err
    first = Path("all.pdf").read_bytes()
    assert first.startswith(b"%PDF-")
    streams = re.findall(rb"stream\r?\n(.*?)\r?\nendstream", first, re.DOTALL)
    assert EXAMPLE.read_bytes() in map(_unpacked, streams)
    call("hand-over", "house.yaml", "--output", "all.pdf")
    assert Path("all.pdf").read_bytes() == first


def test_no_paper_goes_over_the_design(call: Calling) -> None:
    put("house.yaml", SOUND)
    done = call("hand-over", "house.yaml", "--output", "house.yaml")
    assert done.status == 2
    assert Path("house.yaml").read_text() == SOUND


def test_a_broken_design_gets_none(call: Calling) -> None:
    put("house.yaml", SOUND.replace("length: 88 m", "length: 88"))
    done = call("hand-over", "house.yaml", "--output", "pack")
    assert done.status == 2
    assert done.err.startswith("house.yaml:")
    assert not Path("pack").exists()


@pytest.mark.parametrize("command", ["hand-over", "site-sheet"])
def test_what_a_waiver_accepts_is_said_on_paper_with_who_accepted_it(
    call: Calling, command: str
) -> None:
    put("house.yaml", SOUND.replace("length: 88 m", "length: 104 m"))
    today = date.today()
    expires = today + timedelta(days=30)
    waiver = (
        "  - {rule: RULE, subject: loops.L1, reason: The maker allows 120 m, "
        f"accepted_by: A. Designer, accepted_on: {today}, expires: {expires}}}\n"
    )
    rules = ("loop-length", "loop-length-plausible")
    put("prescreed.waivers.yaml", "waivers:\n" + "".join(waiver.replace("RULE", r) for r in rules))
    done = call(command, "house.yaml", "--output", "paper.html")
    assert done.status == 0, done.err
    said = words(Path("paper.html").read_text())
    assert "RELEASE" in said
    accepted = f"Accepted by A. Designer until {expires}: The maker allows 120 m"
    assert said.count(accepted) == len(rules)
    assert "MAJOR loop L1: The loop is 104 m long" in said
