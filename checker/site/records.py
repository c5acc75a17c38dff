"""The form for records from site, and its answers as changes of the design.

The form asks only for records: tests with their readings, the pour, the first heating, moisture,
flows as set, answers to reviews, and what was installed differently from the drawing. An answer
becomes a change of the design (`checker.design.changes`); an answer equal to what the design states
changes nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from checker.design.leaves import Leaf
from checker.forms.changing import alike, listed, mapping, quoted, typed
from checker.forms.declaring import question
from checker.forms.model import Answered, Block, Form, Page, Question, Record
from checker.forms.reading import Answers
from checker.outcome.report import DesignReport
from checker.reports.facts import Facts
from checker.reports.verdicts import answered

FORM = "site"
VERSION = 1
READINGS = 40
"""Places for readings in the form."""
STEPS = 12
"""Places for steps of the first heating."""
LONGEST_NAME = 64
"""Longest name of a record that a form reads back, in characters."""
TESTED = ("header", "medium", "pressure", "hold", "tested_on", "plant_shut", "kept_during_screed",
          "operating_pressure")  # fmt: skip
POURED = ("laid_on", "moisture", "humidity")
LAID = ("length", "port", "joints")
READ = ("at", "pressure", "temperature")
"""The fields of a test, a screed, a loop and a reading that the form asks for."""
AS_WANTED = ("as wanted", "not as wanted")
"""The answers to a review."""


def site_form(design: DesignReport) -> Form:
    """The form of a design: its own tests, floors and loops, and its reviews.

    Args:
        design: its report, made with what it states.

    Returns:
        The form, with a place for each of them; `known` fills them in.
    """
    facts = Facts(design)
    tests = [*_tests(facts)]
    text = Leaf("answer", "text")
    stage = replace(
        question("project.stage", title="The work is done up to"),
        note="Leave it, and it moves on by what is filled in: tested, poured, heated, balanced.",
    )
    tested = (replace(question(f"pressure_tests.{name}"), names="") for name in TESTED)
    return Form(
        FORM,
        f"Records from site: {design.name}",
        (
            Page(
                "Tests",
                "Pressure tests",
                (
                    Block("job", "JOB", (stage,)),
                    Block("tests", "TESTS", (*tested,), key="Test", places=max(len(tests), 1)),
                ),
                "A test under pressure can hurt, and compressed air can kill: a qualified person "
                "tests, under the local code.",
            ),
            Page(
                "Readings",
                "Readings of the tests, by clock, gauge and thermometer",
                (
                    Block(
                        "readings",
                        "",
                        (
                            Question("test", "Test", _choice("test", tests)),
                            *(question(f"pressure_tests.readings.{name}") for name in READ),
                        ),
                        key="Reading",
                        across=False,
                        places=READINGS,
                        names="{}",
                    ),
                ),
            ),
            Page(
                "Screed and heating",
                "The pour, the first heating, and how dry the screed is",
                (
                    Block(
                        "floors",
                        "FLOORS",
                        tuple(question(f"floors.screed.{name}") for name in POURED),
                        key="Floor",
                        places=max(len(facts.names("floors")), 1),
                    ),
                    Block("heating", "FIRST HEATING", (question("heat_up.started_on"),)),
                    Block(
                        "steps",
                        "ITS STEPS, AS HELD",
                        (
                            question("heat_up.steps.supply"),
                            question("heat_up.steps.hold", unit="day"),
                        ),
                        key="Step",
                        places=STEPS,
                        names="{}",
                    ),
                ),
            ),
            Page(
                "Flows",
                "Flows as set",
                (
                    Block(
                        "balance",
                        "",
                        (
                            Question("room", "Room", text, fixed=True),
                            Question("designed", "As designed", text, fixed=True),
                            question("balance.flow", title="Read at the setter"),
                        ),
                        key="Loop",
                        across=False,
                        places=max(len(facts.names("loops")), 1),
                    ),
                ),
            ),
            Page(
                "Look at",
                "For review by a person",
                (
                    Block(
                        "seen",
                        "",
                        (
                            Question("what", "What to see", text, fixed=True),
                            Question("result", "Found", _choice("result", AS_WANTED)),
                            Question("by", "By", text),
                            Question("on", "Day", Leaf("on", "date")),
                            Question("found", "What was found", text),
                        ),
                        key="Rule and place",
                        across=False,
                        places=max(len(_to_see(design)), 1),
                    ),
                ),
            ),
            Page(
                "Changed",
                "Laid otherwise than designed; leave empty what is as designed",
                (
                    Block(
                        "loops",
                        "",
                        tuple(question(f"loops.{name}") for name in LAID),
                        key="Loop",
                        across=False,
                        places=max(len(facts.names("loops")), 1),
                    ),
                ),
            ),
        ),
        VERSION,
    )


def _choice(name: str, options: Iterable[str]) -> Leaf:
    """A field with these choices."""
    listed = (*options,)
    numbers = {option: float(number) for number, option in enumerate(listed)}
    return Leaf(name, "enumeration", options=listed, memo=numbers)


def known(design: DesignReport, document: Mapping[str, Any]) -> dict[str, list[Record]]:
    """What the form is filled in with: names, and what the design already states.

    Args:
        design: its report, made with what it states.
        document: the design as it is typed, as mappings and lists of texts.

    Returns:
        By block of the form, its records in order; readings and steps as many as the form has
        places for.
    """
    facts = Facts(design)
    stated = document.get("pressure_tests") or {}
    tests = _tests(facts)
    readings = [
        Record(
            str(number),
            {"test": test, **{f"pressure_tests.readings.{k}": v for k, v in row.items()}},
        )
        for number, (test, row) in enumerate(
            ((test, row) for test in stated for row in stated[test].get("readings") or ()), 1
        )
    ]
    floors = document.get("floors") or {}
    heating = document.get("heat_up") or {}
    loops = document.get("loops") or {}
    return {
        "tests": [
            Record(
                test,
                {
                    f"pressure_tests.{name}": value
                    for name, value in (stated.get(test) or {"header": header}).items()
                    if name in TESTED
                },
            )
            for test, header in tests.items()
        ],
        "readings": readings[:READINGS],
        "floors": [
            Record(
                floor,
                {
                    f"floors.screed.{name}": value
                    for name, value in (own.get("screed") or {}).items()
                    if name in POURED
                },
            )
            for floor, own in floors.items()
        ],
        "heating": [Record("", {"heat_up.started_on": heating["started_on"]})]
        if heating.get("started_on")
        else [],
        "steps": [
            Record(str(number), {f"heat_up.steps.{name}": value for name, value in row.items()})
            for number, row in enumerate(heating.get("steps") or (), 1)
        ][:STEPS],
        "balance": [
            Record(
                loop,
                {
                    "room": facts.naming(loop, "room", ""),
                    "designed": facts.words(f"loops.{loop}", "flow", ""),
                    **_flow_as_set(_at(document, "balance", loop)),
                },
            )
            for loop in loops
        ],
        "seen": [
            Record(name, {"what": message}) for name, (_, _, message) in _to_see(design).items()
        ],
        "loops": [Record(loop, {}) for loop in loops],
    }


def _flow_as_set(record: Mapping[str, Any]) -> dict[str, str]:
    """The flow of a record of the balance, by its question; a record may state none."""
    return {"balance.flow": record["flow"]} if "flow" in record else {}


def _tests(facts: Facts) -> dict[str, str]:
    """The design's tests with their headers; one for each header that has none."""
    tests = {
        test: facts.words(f"pressure_tests.{test}", "header", "")
        for test in facts.names("pressure_tests")
    }
    for header in facts.names("headers"):
        if header not in tests.values() and f"test of {header}" not in tests:
            tests[f"test of {header}"] = header
    return tests


def _to_see(design: DesignReport) -> dict[str, tuple[str, str, str]]:
    """Reviews without an answer, by their names in the form: rule, subject, words."""
    found = {}
    for result in design.results:
        if result.kind == "review" and not answered(result):
            name = f"{result.rule} · {result.subject}"[:LONGEST_NAME].strip()
            found[name] = (result.rule, result.subject, result.message)
    return found


def changes(form: Answers, design: DesignReport, document: Mapping[str, Any]) -> list[str]:
    """The changes that the answers make in the design.

    Args:
        form: the answers in a filled-in form of this design.
        design: its report, made with what it states.
        document: the design as it is typed, as mappings and lists of texts.

    Returns:
        Each change as `path=text`, to be made one after the other; none for an answer that says
        what the design already states.

    Raises:
        NoRecord: a reading names no test, or a review is answered in part or was not asked.
    """
    made: list[str] = []
    for one in form.records.get("tests", ()):
        made += _of_test(one, document)
    made += _of_readings(form.records.get("readings", ()), document)
    for one in form.records.get("floors", ()):
        path = f"floors.{one.name}.screed"
        made += _fields(one, "floors.screed.", path, _at(document, "floors", one.name, "screed"))
    made += _of_heating(form, document)
    for one in form.records.get("balance", ()):
        if "balance.flow" in one.values:
            flow = one.values["balance.flow"].text
            if not alike(flow, _at(document, "balance", one.name).get("flow")):
                made.append(f"balance.{one.name}={{flow: {flow}}}")
    for one in form.records.get("loops", ()):
        made += _fields(one, "loops.", f"loops.{one.name}", _at(document, "loops", one.name))
    made += _of_seen(form.records.get("seen", ()), design, document)
    stage = form.only("job").get("project.stage")
    if stage is not None and stage.text != design.stage:
        made.append(f"project.stage={stage.text}")
    return made


def _at(document: Mapping[str, Any], *steps: str) -> Mapping[str, Any]:
    part: Any = document
    for step in steps:
        part = part.get(step) if isinstance(part, Mapping) else None
    return part if isinstance(part, Mapping) else {}


def _fields(one: Answered, prefix: str, path: str, stated: Mapping[str, Any]) -> Iterator[str]:
    """A change for each answer that differs from what the design states."""
    for to, answer in one.values.items():
        name = to.removeprefix(prefix)
        text = typed(answer.text)
        if not alike(text, stated.get(name)):
            yield f"{path}.{name}={quoted(text)}"


def _of_test(one: Answered, document: Mapping[str, Any]) -> Iterable[str]:
    stated = _at(document, "pressure_tests", one.name)
    if stated:
        return _fields(one, "pressure_tests.", f"pressure_tests.{one.name}", stated)
    # Only its header was there beforehand: a test that was not made is none.
    if set(one.values) <= {"pressure_tests.header"}:
        return ()
    values = {
        to.removeprefix("pressure_tests."): typed(answer.text) for to, answer in one.values.items()
    }
    return (f"pressure_tests.{one.name}={mapping(values)}",)


def _of_readings(records: Sequence[Answered], document: Mapping[str, Any]) -> Iterator[str]:
    """The readings of each test as one list, in the order of the form."""
    by_test: dict[str, list[dict[str, str]]] = {}
    for one in records:
        values = {to.rpartition(".")[2]: answer.text for to, answer in one.values.items()}
        test = values.pop("test", "")
        if values:
            by_test.setdefault(test, []).append(values)
    for test, rows in by_test.items():
        if not test:
            raise NoRecord(f"{len(rows)} of the readings name no test")
        if not _all_alike(rows, _at(document, "pressure_tests", test).get("readings") or ()):
            yield readings_change(test, rows)


def _of_heating(form: Answers, document: Mapping[str, Any]) -> Iterator[str]:
    heating = _at(document, "heat_up")
    started = form.only("heating").get("heat_up.started_on")
    if started is not None and not alike(started.text, heating.get("started_on")):
        yield f"heat_up.started_on={started.text}"
    rows = [
        {to.rpartition(".")[2]: answer.text for to, answer in one.values.items()}
        for one in form.records.get("steps", ())
    ]
    if rows and not _all_alike(rows, heating.get("steps") or ()):
        yield f"heat_up.steps={listed(rows)}"


def _of_seen(
    records: Sequence[Answered], design: DesignReport, document: Mapping[str, Any]
) -> Iterator[str]:
    """New answers to reviews, after those that the design already has."""
    asked = _to_see(design)
    place = len(document.get("seen") or ())
    for one in records:
        values = {to: answer.text for to, answer in one.values.items()}
        if not values:
            continue
        if one.name not in asked:
            raise NoRecord(f"'{one.name}' is nothing that is asked of this design now")
        missing = [title for to, title in NEEDED.items() if to not in values]
        if missing:
            raise NoRecord(f"'{one.name}' is answered without {' and '.join(missing)}")
        rule, subject, _ = asked[one.name]
        record = {"rule": rule, "subject": subject}
        record |= {to: values[to] for to in NEEDED}
        if "found" in values:
            record["what"] = values["found"]
        place += 1
        yield f"seen[{place}]={mapping(record)}"


NEEDED = {"result": "what was found", "by": "who looked", "on": "the day"}
"""What every answer to a review must have, in words."""


class NoRecord(Exception):
    """An answer of the form cannot be recorded; the message is for the user."""


def _all_alike(rows: Sequence[Mapping[str, str]], stated: Sequence[Mapping[str, Any]]) -> bool:
    return len(rows) == len(stated) and all(
        row.keys() == own.keys() and all(alike(row[key], own[key]) for key in row)
        for row, own in zip(rows, stated, strict=True)
    )


def readings_change(test: str, rows: Sequence[Mapping[str, str]]) -> str:
    """The change that gives a test these readings instead of those that it has.

    Args:
        test: its id in the design.
        rows: for each reading its texts by field (`at`, `pressure`, `temperature`).

    Returns:
        The change as `path=text`.
    """
    return f"pressure_tests.{test}.readings={listed(rows)}"
