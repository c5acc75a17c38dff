"""What a design's pictures say: those at fault first, and nobody cleared for want of data."""

from __future__ import annotations

from xml.etree import ElementTree

from checker.reports.drawn import Drawn, drawn
from checker.reports.facts import Facts
from tests.example import DESIGN, changed
from tests.reports.pages import judged

LOOP = "  L{n}: {{header: H1, room: kitchen, floor: slab, pipe: p16, pattern: counterflow, zone: occupied, spacing: 150 mm, area: 12 m², length: {length} m, feeds: 8 m}}\n"


def pictures(text: str) -> dict[str, Drawn]:
    """The design's pictures by their headings."""
    (report,) = judged(("house.yaml", text))
    return {one.title: one for one in drawn(Facts(report))}


def labels(picture: Drawn) -> list[str]:
    return [text.text or "" for text in ElementTree.fromstring(picture.svg).iter("text")]


def test_of_many_loops_those_nearest_to_their_limit_are_drawn() -> None:
    lengths = [60 + n % 30 for n in range(100)]
    # Common practice: at most 100 m of a pipe 16 mm outside.
    lengths[90], lengths[97] = 130, 99
    more = "".join(LOOP.format(n=n + 10, length=length) for n, length in enumerate(lengths))
    picture = pictures(changed(("pressure_tests:", f"{more}pressure_tests:")))["Loop lengths"]
    assert picture.says.startswith("L100 is longer than its pipe can feed.")
    assert "Shown: the 40 of 102 that are nearest to their limits." in picture.says
    found = [label for label in labels(picture) if label.startswith("L")]
    assert len(found) == 40
    assert {"L100", "L107"} <= {*found}
    assert found == sorted(found, key=lambda label: int(label[1:]))


def test_few_loops_are_all_drawn() -> None:
    picture = pictures(DESIGN)["Loop lengths"]
    assert picture.says == "None is longer than its pipe can feed."
    assert {"L1", "L2"} <= {*labels(picture)}


def test_who_cannot_be_judged_is_not_said_to_be_sound() -> None:
    lacking = changed((", heat_load: 400 W", ""))
    says = pictures(lacking)["Heat against need"].says
    assert says.startswith("None of those that can be judged gets less heat than it needs.")
    assert says.endswith("Not judged, because data are missing: bath.")


def test_a_broken_limit_is_hatched_with_its_meaning_in_the_key() -> None:
    long = pictures(changed(("length: 88 m", "length: 128 m")))["Loop lengths"]
    assert 'class="broken"' in long.svg
    assert 'class="hatch"' in long.svg
    assert "too long" in labels(long)
    sound = pictures(DESIGN)["Loop lengths"]
    assert 'class="broken"' not in sound.svg
    assert "too long" not in labels(sound)
