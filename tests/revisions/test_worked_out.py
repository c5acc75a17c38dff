"""For which causes it is worked out what would do."""

from __future__ import annotations

from checker.revisions.revision import read
from checker.revisions.senders import projects
from checker.revisions.worked_out import WorkedOut, work_out
from checker.run import batch
from tests.example import changed

TOO_LONG = ("length: 88 m", "length: 128 m")
TOO_HOT = ("supply: 42 °C\n  drop", "supply: 64 °C\n  drop")


def test_the_first_cause_of_each_design_comes_before_the_second_of_any() -> None:
    texts = [
        changed(("name: Test House", f"name: Invented Row {number}"), TOO_LONG, TOO_HOT)
        for number in range(2)
    ]
    revisions, bad = read([(f"{n}.yaml", text.encode()) for n, text in enumerate(texts)])
    assert not bad
    found = projects(revisions, "contractor")
    plans = {one.report.path: batch.BY_THE_DESIGN for one in revisions}
    assert work_out(found, plans, most=2).done == 2
    assert [len(one.newest.report.remedies) for one in found] == [1, 1]
    done = work_out(found, plans)
    rules = [{rule for rule, _ in one.newest.report.remedies} for one in found]
    assert done.done == done.of == sum(map(len, rules))
    assert rules[0] == rules[1]
    # A letter names a cause once, so one place of each is enough.
    assert [len(one.newest.report.remedies) for one in found] == [*map(len, rules)]


def test_nothing_is_worked_out_where_nothing_holds_up() -> None:
    revisions, _ = read([("0.yaml", changed().encode())])
    assert all(one.severity == "minor" for one in revisions[0].report.results_of("fail"))
    assert work_out(projects(revisions, "contractor"), {}) == WorkedOut(0, 0)


def test_a_design_beyond_single_changes_is_no_cause_that_was_worked_out() -> None:
    line = next(one for one in changed().splitlines() if one.startswith("  L1:"))
    more = [
        line.replace("L1:", f"X{n}:")
        .replace("88 m", "188 m")
        .replace("port: 1", f"port: {n % 90 + 3}")
        for n in range(101)
    ]
    beyond = changed((line, "\n".join([line, *more])), ("name: Test House", "name: Large House"))
    texts = [changed(TOO_LONG), beyond]
    revisions, bad = read([(f"{n}.yaml", text.encode()) for n, text in enumerate(texts)])
    assert not bad
    plans = {one.report.path: batch.BY_THE_DESIGN for one in revisions}
    done = work_out(projects(revisions, "contractor"), plans)
    assert (done.done, done.beyond) == (done.of, 1)
    assert done.of == len(revisions[0].report.remedies)
    assert not revisions[1].report.remedies
