"""The form for a visit: what to read at a job, in the order of the round, and what it would decide.

It is a form like those of a house and of records (`checker.forms`). Filled in, its answers become
the text of a file of readings, which `checker.audit.readings` reads.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from checker.audit import readings
from checker.audit.complaints import Complaints, complaints
from checker.audit.needed import AT_HEADERS, NEEDED
from checker.audit.papers import JudgedDesign
from checker.design.leaves import Leaf
from checker.forms.model import UNITS, Answered, Block, Form, Page, Question, Record
from checker.forms.reading import Answers
from checker.reading.package_data import data_folder

FORM = "visit"
ROOM = 40
"""A form has room for at least this many rooms, loops and headers, so that some can be added."""
_TITLES = {
    "on": "Day of the visit",
    "at": "Time of day",
    "outside": "Air outside",
    "meter": "Meters of heat and fuel",
    "notes": "Seen, heard, smelt, camera's pictures",
    "job.complaint": "What is complained of",
    "events.complaint": "Day of the call",
    "events.handed_over": "Handed over on",
    "rooms.temperature": "Air in the room",
    "rooms.set": "Thermostat set to",
    "rooms.shown": "Thermostat shows",
    "headers.supply": "Water into the header",
    "headers.return": "Water out of the header",
    "headers.pressure": "Gauge, header shut off",
    "headers.temperature": "Its water then",
    "headers.glycol": "Glycol",
    "loops.valve": "Valve and drive as found",
    "loops.flow": "Flow",
    "loops.supply": "Supply",
    "loops.return": "Return",
    "loops.surface": "Surface, mean of ten spots",
    "loops.surface_max": "Surface, warmest spot",
    "loops.pressure_drop": "Pressure loss, port to port",
    "loops.content": "Water that filled it",
    "loops.flow_purged": "Flow, flushed alone",
    "loops.flow_other_head": "Flow, a neighbour's head on",
}
_VISIT = (
    "on",
    "at",
    "outside",
    "meter",
    "notes",
    "job.complaint",
    "events.complaint",
    "events.handed_over",
)
_ACCURACY = tuple(f"accuracy.{name}" for name in readings.Accuracy.__struct_fields__)
_ROUND = {
    "rooms": ("set", "shown", "temperature", "notes"),
    "headers": ("supply", "return", "glycol", "pressure", "temperature", "notes"),
    "loops": ("valve", "flow", "supply", "return", "surface", "surface_max", "pressure_drop",
              "content", "flow_purged", "flow_other_head", "notes"),
}  # fmt: skip
_MOST_NAMED = 5


def visit_form(paper: JudgedDesign | None = None, complaint: str = "") -> Form:
    """Make the form for a visit.

    Args:
        paper: the job as it is on paper; None for an empty form, by which any filled-in one is
            read.
        complaint: the id of the complaint; the form says what each reading decides about its
            causes. Empty for all complaints.

    Returns:
        The form, with as many rows as the job has rooms, headers and loops, ROOM without a job.
    """
    known = complaints()
    decides = deciding(known, complaint)
    title = f"Visit: {paper.design.path if paper else ''}"
    if complaint:
        title += f" · {known.trouble[complaint].title}"

    def asked(name: str) -> Question:
        return _question(name, decides.get(name, ()))

    def rows(section: str, *first: Question) -> Block:
        questions = (*first, *(asked(f"{section}.{name}") for name in _ROUND[section]))
        count = len(paper.ids(section)) if paper else ROOM
        key = section[:-1].capitalize()
        return Block(section, "", questions, key=key, across=False, places=max(count, 1))

    text = Leaf("told", "text")
    return Form(
        FORM,
        title,
        (
            Page(
                "Visit",
                "1. On arrival",
                (
                    Block("visit", "VISIT", tuple(asked(name) for name in _VISIT)),
                    Block(
                        "accuracy",
                        "INSTRUMENTS: how far off they may be, either way",
                        tuple(asked(name) for name in _ACCURACY),
                    ),
                ),
                "Leave empty what is not read. A cell may hold its own unit, such as 30 °F.",
            ),
            Page(
                "Rooms",
                "2. Round the rooms, doors closed",
                (rows("rooms", Question("designed", "As designed", text, fixed=True)),),
                "Write what each thermostat is set to and shows, then set it to its highest: all "
                "valves open.",
            ),
            Page(
                "Headers",
                "3. At the header",
                (rows("headers"),),
                "Hot water and pressure can hurt: a qualified person opens, shuts and vents, under "
                "the local code. Read the gauge last, with the header shut off and its pump off.",
            ),
            Page(
                "Loops",
                "4. Loop by loop, once the valves have been open for half an hour",
                (
                    rows(
                        "loops",
                        Question("room", "Room", text, fixed=True),
                        Question("computed", "Flow computed", text, fixed=True),
                    ),
                ),
                "Read flow, supply and return of a loop at the same time.",
            ),
        ),
    )


def known_records(paper: JudgedDesign) -> dict[str, list[Record]]:
    """Give the records that the form shows already: rooms, headers and loops as they are on paper.

    Args:
        paper: the job.

    Returns:
        By block of the form, its records in file order; values in words, in the design's units.
    """
    speech = paper.report.speech

    def measured(value: float, unit: str) -> str:
        return "" if np.isnan(value) else speech.measure(value, unit)

    loops = [
        Record(
            name,
            {
                "room": ", ".join(paper.named(name, "room")),
                "computed": measured(paper.value("loop", "flow", name) * 6e4, "l/min"),
            },
        )
        for name in paper.ids("loops")
    ]
    rooms = [
        Record(name, {"designed": measured(paper.value("room", "temperature", name), "°C")})
        for name in paper.ids("rooms")
    ]
    headers = [Record(name, {}) for name in paper.ids("headers")]
    return {"rooms": rooms, "headers": headers, "loops": loops}


def deciding(known: Complaints, complaint: str = "") -> dict[str, tuple[str, ...]]:
    """Say which causes each reading can support or contradict.

    Args:
        known: the file of complaints.
        complaint: the id of one; empty for all causes.

    Returns:
        By the reading's place in the form ('loops.flow'), the titles of the causes in file order.
    """
    found: dict[str, dict[str, None]] = {}
    causes = known.causes_of(complaint) if complaint else known.causes
    for cause in causes.values():
        for piece in (*cause.supporting, *cause.against):
            if not piece.sign or not piece.counts(complaint):
                continue
            subject = known.signs[piece.sign].subject
            for name in NEEDED.get(piece.sign, ()):
                where = f"headers.{name}" if piece.sign in AT_HEADERS else _where(name, subject)
                found.setdefault(where, {})[cause.title] = None
    return {name: (*titles,) for name, titles in found.items()}


def _where(name: str, subject: str) -> str:
    """Where in the form a reading that a sign needs is written."""
    if name == "outside":
        return name
    if name in ("temperature", "set", "shown", "pressure", "glycol"):
        return f"{subject}s.{name}"
    # What tells of a header's loops, or of a room's, is read at loops.
    return f"loops.{name}"


def _question(name: str, decides: Sequence[str]) -> Question:
    """The question for one reading; decides: the titles of the causes that it decides on."""
    leaf, note = _leaves()[name]
    unit = leaf.example.partition(" ")[2] if leaf.kind == "quantity" else ""
    if decides:
        more = f" and {len(decides) - _MOST_NAMED} more" if len(decides) > _MOST_NAMED else ""
        note += f" It decides on: {'; '.join(decides[:_MOST_NAMED])}{more}."
    title = _TITLES.get(name) or name.rpartition(".")[2].capitalize()
    units = UNITS.get(unit, (unit,) if unit else ())
    return Question(name, title, leaf, note, units, leaf.example, decides=bool(decides))


def _leaves() -> dict[str, tuple[Leaf, str]]:
    """The fields of the format of readings by their place in the form, with their descriptions."""
    schema = json.loads((data_folder("schemas") / "readings.schema.json").read_text("utf-8"))
    whole: Any = readings.layout()
    visit = whole.members["visits"].record
    words = schema["properties"]["visits"]["items"]["properties"]
    of_job = schema["properties"]["complaint"]["description"]
    found = {"job.complaint": (whole.members["complaint"], of_job)}
    for prefix, record, said in (
        ("", visit, words),
        ("events.", whole.members["events"], schema["properties"]["events"]["properties"]),
        ("accuracy.", whole.members["accuracy"], schema["properties"]["accuracy"]["properties"]),
        *(
            (
                f"{name}.",
                visit.members[name].record,
                words[name]["additionalProperties"]["properties"],
            )
            for name in _ROUND
        ),
    ):
        for name, leaf in record.members.items():
            if isinstance(leaf, Leaf):
                found[f"{prefix}{name}"] = (leaf, said[name]["description"])
    return found


def as_readings(found: Answers) -> bytes:
    """Write the answers of a filled-in form as a file of readings.

    Args:
        found: the answers; what could not be read must have been reported before.

    Returns:
        The text of the file, whose values are still as they were typed.
    """
    first = {**found.only("visit"), **found.only("accuracy")}
    document: dict[str, Any] = {"readings": "1"}
    visit: dict[str, Any] = {}
    if "job.complaint" in first:
        document["complaint"] = first.pop("job.complaint").text
    for to, answer in first.items():
        section, dot, name = to.rpartition(".")
        (document.setdefault(section, {}) if dot else visit)[name] = answer.text
    for section in _ROUND:
        records = {one.name: _values(one) for one in found.records.get(section, ())}
        if records:
            visit[section] = records
    document["visits"] = [visit]
    return "\n".join(_lines(document)).encode() + b"\n"


def _values(one: Answered) -> dict[str, str]:
    return {to.rpartition(".")[2]: answer.text for to, answer in one.values.items()}


def _lines(document: Mapping[str, Any]) -> Iterator[str]:
    for key, value in document.items():
        text = value if key == "readings" else json.dumps(value, ensure_ascii=False)
        yield f"{key}: {text}"
