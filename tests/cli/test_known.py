"""Known findings over the life of a design: worse, judged otherwise, moved, deprived of data."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.cli.calling import Calling, calling, git, put
from tests.cli.test_pack_check import NEW, SOURCES
from tests.example import SOUND as DESIGN
from tests.example import sound_but

__all__ = ["calling"]

LOW = sound_but(("pressure: 4 bar", "pressure: 2.5 bar"))
"""A critical fail: test-pressure."""


def state(report: Any, rule: str, design: int = 0) -> str | None:
    found = [one for one in report["designs"][design]["results"] if one["rule"] == rule]
    states = {one.get("state") for one in found if one["kind"] in ("fail", "open")}
    assert len(states) == 1, found
    known: str | None = states.pop()
    return known


@pytest.fixture(name="known")
def _known(call: Calling) -> Calling:
    put("d/house.yaml", LOW)
    assert call("freeze", "d").status == 0

    def check(*words: str) -> Any:
        return call("check", "--known", "prescreed.known.json", *words)

    return check


def test_what_is_known_passes_and_is_counted(known: Calling) -> None:
    done = known("d")
    assert done.status == 0
    assert "exit 0: nothing at or above major in 1 design; " in done.out
    assert "test-pressure" not in done.out
    assert "0 new or worse, " in done.out


def test_a_datum_that_is_taken_away_is_worse(known: Calling) -> None:
    put("d/house.yaml", LOW.replace("    pressure: 2.5 bar\n", ""))
    done = known("--format", "json", "d")
    assert state(done.json, "test-pressure") == "worse"
    assert done.status == 1
    text = known("d").out
    assert text.startswith("exit 1: 1 critical and 1 major open")
    assert "NEWLY OPEN" in text
    # Also where it passed, and nothing was written down of it.
    put("d/house.yaml", LOW.replace("    insulation: 4 m²·K/W\n", ""))
    assert state(known("--format", "json", "d").json, "insulation") == "worse"
    assert known("d").status == 1


@pytest.mark.parametrize("words", [(), ("--summary",), ("--format", "markdown"),
                                   ("--format", "job-summary")])  # fmt: skip
def test_what_is_new_or_worse_comes_first_wherever_its_design_stands(
    call: Calling, words: tuple[str, ...]
) -> None:
    for name in ("a", "b", "z"):
        put(f"d/{name}.yaml", LOW.replace("name: Test House", f"name: House {name.upper()}"))
    assert call("freeze", "d").status == 0
    text = Path("d/z.yaml").read_text("utf-8")
    put("d/z.yaml", text.replace("length: 88 m", "length: 138 m"))
    put("d/b.yaml", Path("d/b.yaml").read_text("utf-8").replace("    pressure: 2.5 bar\n", ""))
    check = ("check", "--known", "prescreed.known.json", *words, "d")
    done = call(*check)
    assert done.status == 1
    order = sorted("abz", key=lambda one: done.out.index(f"d/{one}"))
    assert order[-1] == "a", done.out
    assert "\x00" not in done.out
    if words[-1:] == ("job-summary",):
        assert done.out.index("critical, newly open") < done.out.index("major, new |")
        assert done.out.index("major, new |") < done.out.index("critical, known, no worse")
    elif words != ("--summary",):
        assert "NEWLY OPEN" in done.out
        assert done.out.index("House B") < done.out.index("House A")
    # Nothing else changes its place.
    Path("d/z.yaml").unlink()
    put("d/b.yaml", LOW)
    plain = call(*check).out
    assert plain.index("d/a") < plain.index("d/b")


def test_a_new_design_that_lacks_data_is_new_and_not_worse(known: Calling) -> None:
    put("d/other.yaml", DESIGN.replace("    insulation: 4 m²·K/W\n", ""))
    report = known("--format", "json", "d").json
    assert state(report, "insulation", 1) == "new"


def test_a_moved_design_keeps_what_is_known_of_it(known: Calling) -> None:
    put("d/plot-7/house.yaml", LOW)
    assert known("d").status == 1  # a copy is another design
    Path("d/house.yaml").unlink()
    done = known("--format", "json", "d")
    assert (done.status, state(done.json, "test-pressure")) == (0, "unchanged")
    put("d/plot-7/house.yaml", LOW.replace("length: 88 m", "length: 89 m"))  # by its name
    assert known("d").status == 0
    put("d/house.yaml", LOW)  # both are there again
    assert known("d").status == 1


def test_what_only_other_rules_find_is_judged_otherwise(known: Calling) -> None:
    put("pack/sources.yaml", SOURCES)
    put("pack/loops/strict.yaml", NEW.replace("severity: minor", "severity: major"))
    done = known("--format", "json", "--rules", "pack", "d")
    assert done.status == 0
    assert state(done.json, "strict") == "judged otherwise"
    assert "judged otherwise by other rules" in known("--rules", "pack", "d").out
    put("d/house.yaml", LOW + "# touched\n")
    done = known("--format", "json", "--rules", "pack", "d")
    assert (done.status, state(done.json, "strict")) == (1, "new")


def test_an_older_file_is_read_and_a_spoilt_one_refused(known: Calling) -> None:
    file = Path("prescreed.known.json")
    text = file.read_text()
    assert '"known":2' in text
    older = text[: text.index(',"designs":[')] + ',"findings":[' + text.split('"findings":[')[1]
    file.write_text(older.replace('"known":2', '"known":1'))
    assert known("d").status == 0
    file.write_text(text.replace('"severity":"critical"', '"severity":"grave"'))
    done = known("d")
    assert (done.status, "not a file of known findings" in done.err) == (2, True)


def test_what_a_change_makes_of_the_policy_is_told(call: Calling) -> None:
    git("init", "--quiet")
    put("d/house.yaml", LOW)
    put("prescreed.yaml", "fail-on: major\n")
    git("add", "--all")
    git("commit", "--quiet", "-m", "a")
    put("prescreed.yaml", "fail-on: never\n")
    words = ("check", "--format", "job-summary", "--policy-from", "HEAD", "d")
    done = call(*words)
    assert done.status == 1
    plain = done.out.replace("&#58;", ":")
    assert "The change alters the policy: prescreed.yaml: fail-on: major → never." in plain
    git("checkout", "--quiet", "prescreed.yaml")
    put("prescreed.waivers.yaml", "waivers: []\n")
    assert "alters the policy" not in call(*words).out
