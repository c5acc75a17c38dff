"""What is missing is named as the design states it: of a loop, of a part of one, of a feed."""

from __future__ import annotations

from checker.run.batch import check
from tests.example import changed, report

PARTS = (
    "zone: occupied, spacing: 150 mm, area: 12 m², length: 88 m, feeds: 8 m,",
    "length: 88 m, parts: [{room: kitchen, floor: slab, zone: occupied, spacing: 150 mm},"
    " {room: kitchen, floor: slab, zone: perimeter, area: 3 m²}],"
    " feeds: [{room: bath, length: 6 m, spacing: 75 mm}],",
)


def asked(text: str) -> list[str]:
    return [one.field for one in report(text).questions if one.field.startswith("loops.L1")]


def test_a_loop_without_parts_is_asked_for_its_own_data_once() -> None:
    named = asked(changed((" room: kitchen, floor: slab, pipe: p16,", " room: kitchen,"),
                          ("spacing: 150 mm, area: 12 m²,", "")))  # fmt: skip
    assert {"loops.L1.floor", "loops.L1.pipe", "loops.L1.spacing", "loops.L1.area"} <= {*named}
    assert len(named) == len({*named})
    assert not [one for one in named if "[" in one]


def test_parts_and_feeds_are_told_by_their_own_numbers() -> None:
    text = changed((" room: kitchen, floor: slab, pipe: p16,", ""), PARTS)
    named = asked(text)
    assert {"loops.L1.parts[1].area", "loops.L1.parts[2].spacing", "loops.L1.feeds[1].floor",
            "loops.L1.pipe"} <= {*named}  # fmt: skip
    assert len(named) == len({*named})


def test_what_any_record_lacks_that_may_be_meant_is_asked_at_once() -> None:
    """Loop 2 may lie in the bath, whose use is not stated: a second round would ask for it."""
    lacking = changed(("room: bath, floor", "floor"), ("use: bathroom, ", ""))
    first = {one.field for one in report(lacking).questions}
    assert {"loops.L2.room", "rooms.bath.use"} <= first
    answered = changed(("use: bathroom, ", ""))
    assert {one.field for one in report(answered).questions} <= first


def test_what_a_rule_may_come_to_want_is_asked_before_it_is_known_to_apply() -> None:
    """Without its loop's room and its load, whether the kitchen is heated is not known."""
    lacking = changed(
        (" room: kitchen, floor: slab,", " floor: slab,"),
        ("area: 13 m², heat_load: 700 W, ", ""),
        ("heat_load: 400 W, ", ""),
    )
    first = report(lacking)
    assert {"loops.L1.room", "rooms.kitchen.area"} <= {one.field for one in first.questions}
    # No more is asked beside a job under another code, for which other limits are in force.
    american = changed(("GB-ENG", "US"))
    both, _ = check([("a.yaml", lacking.encode()), ("b.yaml", american.encode())])
    assert both[0].questions == first.questions
