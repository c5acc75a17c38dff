"""The hand-over pack: what was designed, installed, tested and balanced, and two pages for the
owner.

It shows a design's records with how they were judged, and keeps the design's file and what it was
judged by, so that an audit years later can start from it. It makes no judgement of its own.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from typing import Any

from msgspec import Struct

from checker.outcome.report import DesignReport
from checker.outcome.results import Measure, Result
from checker.outcome.runs import RuleSet
from checker.reports.facts import Facts
from checker.reports.header_drawing import on_paper
from checker.reports.joining import Joined, joined
from checker.reports.sentences import (
    cautions,
    cited,
    judged_by,
    value_text,
    waived_results,
    worst_first,
)
from checker.reports.verdicts import ASKS, answered, asked, looked_at, sentence, to_look_at
from checker.words import listed

LAST_STAGE = "installed"
SAME_DAY = datetime(2000, 1, 1, tzinfo=UTC)
"""Fixed, so that the same design gives the same bytes."""
PROPERTY = re.compile(r"var\(--\w+, (#\w+)\)")
PLAIN_COVERING = 0.15
"""m²·K/W; EN 1264-2 (2021), scope of the tables, as reported: they hold no covering above this."""


class Room(Struct, frozen=True):
    """What an owner needs to know about a room."""

    name: str
    temperature: str
    covering: str
    floor: str


class Loop(Struct, frozen=True):
    """A loop as designed, and as balanced, in words.

    Attributes:
        name: its id.
        header: the id of its header.
        port: on that header.
        rooms: that it heats.
        length: of its pipe.
        spacing: of its parts.
        flow: as designed.
        balanced: the flow on record.
        result: whether that was kept; empty where nothing judges it.
    """

    name: str
    header: str
    port: str
    rooms: str
    length: str
    spacing: str
    flow: str
    balanced: str
    result: str


class Test(Struct, frozen=True):
    """A pressure test as recorded, its readings, and its result."""

    name: str
    facts: list[tuple[str, str]]
    readings: list[tuple[str, str, str]]
    judged: list[Result]


class Pack(Struct):
    """The content of the pack of one design.

    Attributes:
        design: its report.
        run: the rules that it was judged by.
        rooms: what the owner needs to know about each.
        loops: as designed and as balanced.
        tests: of pressure, with their readings.
        heating: supply and days of each step of the first heating.
        heating_on: its first day, as stated; empty where it is not.
        fails: findings that are not waived, worst first.
        waived: fails and open results that a waiver accepts.
        asked: what is not stated.
        unseen: what nobody has looked at.
        seen: what a person looked at.
        headers: pictures of the headers.
        cautions: of the rules that apply.
        digest: of the design's file.
        covers: how deep the pipes are, floor by floor.
        supply: the plant's supply temperature.
    """

    design: DesignReport
    run: RuleSet
    rooms: list[Room]
    loops: list[Loop]
    tests: list[Test]
    heating: list[tuple[str, str]]
    heating_on: str
    fails: list[Joined]
    waived: list[Joined]
    asked: list[Any]
    unseen: list[Joined]
    seen: list[Joined]
    headers: list[Any]
    cautions: list[str]
    digest: str
    covers: str
    supply: str

    @property
    def is_ready(self) -> bool:
        """Whether nothing prevents handing it over."""
        return self.design.verdict == "release" and self.design.stage == LAST_STAGE

    @property
    def why_not(self) -> str:
        """What prevents handing it over, in a sentence."""
        if self.is_ready:
            return ""
        if self.design.stage != LAST_STAGE:
            return (
                f"The design's stage is '{self.design.stage}': its file does not say that the work "
                "is done."
            )
        return sentence(self.design)

    @property
    def manifest(self) -> dict[str, Any]:
        """What it was judged by, as data."""
        return {
            "hand_over": 1,
            "name": self.design.name,
            "verdict": self.design.verdict,
            "stage": self.design.stage,
            "judged_by": {"day": self.design.judged_by, "codes": self.design.codes},
            "rules": {"edition": self.run.edition, "digest": self.run.digest},
            "file": {"name": "design.yaml", "digest": self.digest},
        }


def pack(design: DesignReport, run: RuleSet, content: bytes) -> Pack:
    """The pack of a design.

    Args:
        design: the report, made with what the design states.
        run: the rules that it was judged by.
        content: the design's file, whose digest goes into the pack.

    Returns:
        The pack, also of a design that is not ready to be handed over.
    """
    facts = Facts(design)
    speech = facts.speech
    fails = (one for one in facts.results if one.kind == "fail" and not one.waived)
    return Pack(
        design,
        run,
        [_room(facts, room) for room in facts.names("rooms")],
        [_loop(facts, loop) for loop in facts.names("loops")],
        [_test(facts, test) for test in facts.names("pressure_tests")],
        [
            (
                value_text(row.get("supply", Measure(None, "°C")), speech),
                _days(facts, row.get("hold")),
            )
            for row in facts.rows("design", "heat_up_steps")
        ],
        facts.words("design", "heat_up.started_on", ""),
        joined(worst_first(fails), speech),
        joined(waived_results(facts.results), speech),
        asked(design.questions),
        joined(to_look_at(facts.results), speech),
        joined(looked_at(facts.results), speech),
        [picture for header in facts.names("headers") for picture in on_paper(facts, header)],
        cautions(design),
        f"sha256:{hashlib.sha256(content).hexdigest()}",
        _covers(facts),
        facts.words("design", "plant.supply", ""),
    )


def _room(facts: Facts, room: str) -> Room:
    subject = f"rooms.{room}"
    material = facts.words(subject, "covering.material", "")
    resistance = facts.words(subject, "covering.resistance", "")
    covering = f"{material}, {resistance}" if material and resistance else material or resistance
    hottest = [
        facts.number(f"loops.{loop}", "surface_max") for loop in facts.loops_of("rooms", room)
    ]
    known = [one for one in hottest if one == one]
    return Room(
        room,
        facts.words(subject, "temperature", "not stated"),
        covering or "not stated",
        facts.speech.said(max(known), "°C")
        if known and len(known) == len(hottest)
        else "not known",
    )


def _loop(facts: Facts, loop: str) -> Loop:
    subject = f"loops.{loop}"
    recorded = facts.result("balance-recorded", subject)
    return Loop(
        loop,
        facts.words(subject, "header"),
        facts.words(subject, "port"),
        facts.naming(loop, "room"),
        facts.words(subject, "length"),
        facts.spacings(subject),
        facts.words(subject, "flow"),
        facts.words(f"balance.{loop}", "flow", "not recorded"),
        "" if recorded is None else _came_out(recorded),
    )


def _test(facts: Facts, test: str) -> Test:
    subject = f"pressure_tests.{test}"
    named = {
        "header": "Header",
        "medium": "With",
        "pressure": "Pressure",
        "hold": "Held for",
        "tested_on": "On",
        "plant_shut": "Plant shut off",
        "kept_during_screed": "Kept on through the screed",
        "operating_pressure": "Working pressure",
    }
    return Test(
        test,
        [(label, facts.words(subject, name, "not recorded")) for name, label in named.items()],
        [
            tuple(value_text(row[name], facts.speech) if name in row else "–" for name in READ)  # type: ignore[misc]
            for row in facts.rows(subject, "readings")
        ],
        [one for one in facts.results if one.subject == subject and one.kind != "notApplicable"],
    )


READ = ("at", "pressure", "temperature")
"""The columns of the readings of a test."""


def _came_out(result: Result) -> str:
    if answered(result):
        return "reviewed"
    words = {"pass": "met", "fail": f"{result.severity}: not met", "open": "open: data missing"}
    return words.get(result.kind, "for review" if result.kind == "review" else "")


def _days(facts: Facts, hold: Any) -> str:
    minutes = hold.magnitude if isinstance(hold, Measure) else None
    if minutes is None:
        return "not recorded"
    days = minutes / 1_440
    return f"{facts.speech.number(days)} day{'' if days == 1 else 's'}"


def _covers(facts: Facts) -> str:
    """How deep the pipes are, as far as it is known."""
    found = []
    for floor in facts.names("floors"):
        cover = facts.words(f"floors.{floor}", "screed.cover", "")
        found.append(f"{floor}: {cover} of screed over them" if cover else f"{floor}: not stated")
    return listed(found)


def page(found: Pack, content: bytes, *, owner: bool = True, record: bool = True) -> bytes:
    """The pack as one page to be printed.

    Args:
        found: the pack.
        content: the design's file, which the records show in full.
        owner: whether to include the part for the owner.
        record: whether to include the records.

    Returns:
        The page, as UTF-8.
    """
    from checker.reports.html import environment, style

    made = environment().get_template("hand_over.html")
    return made.render(
        pack=found,
        design=found.design,
        facts=Facts(found.design),
        run=found.run,
        judged=judged_by(found.design),
        sentence=sentence(found.design),
        asks=ASKS[found.design.stage],
        cited=cited,
        came_out=_came_out,
        plain_covering=found.design.speech.measure(PLAIN_COVERING, "m²·K/W"),
        text=content.decode("utf-8", "replace"),
        owner=owner,
        record=record,
        style=style("site_sheet.css") + style("hand_over.css"),
    ).encode()


def files(found: Pack, content: bytes) -> Iterator[tuple[str, Iterable[bytes]]]:
    """The pack as a folder: both papers, the design's file, and what it was judged by.

    Args:
        found: the pack.
        content: the design's file, which is put in unchanged.

    Returns:
        Each file's name within the folder, and its content part by part.
    """
    yield "owner.html", [page(found, content, record=False)]
    yield "record.html", [page(found, content, owner=False)]
    yield "design.yaml", [content]
    manifest = json.dumps(found.manifest, ensure_ascii=False, indent=1) + "\n"
    yield "manifest.json", [manifest.encode()]


def pdf(found: Pack, content: bytes) -> bytes:
    """The pack as one PDF, with the design's file attached.

    Args:
        found: the pack.
        content: the design's file.

    Returns:
        The PDF; the same bytes for the same pack.

    Raises:
        ImportError: the extra is not installed.
        OSError: a library that it needs is not installed.
    """
    from weasyprint import HTML, Attachment

    # The PDF's writer knows no custom properties in pictures; each names what else it is.
    whole = PROPERTY.sub(r"\1", page(found, content).decode())
    attached = Attachment(
        string=content,
        name="design.yaml",
        description="the design as judged",
        created=SAME_DAY,
        modified=SAME_DAY,
    )
    written: bytes = HTML(string=whole).write_pdf(
        attachments=[attached], pdf_identifier=found.digest.encode()
    )
    return written
