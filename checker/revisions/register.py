"""The register of a job: what was sent, what was asked, and what became of each point.

One plain JSON file (`schemas/register.schema.json`), which git can compare. A point is one cause in
one design (a rule that fails, something to confirm, a datum that is missing) with all places where
it stands; it keeps its number for good. Places follow their loops from revision to revision
(`matching`), so a point is mended only where the loop that had it is still there.

No clock is read here: the day is the caller's.
"""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Literal

import msgspec
from msgspec import Struct

from checker.reading import bounded
from checker.run.writer import Unwritable, put, unwritable

VERSION = 2
READ = (1, 2)
"""Versions that are read; what a later one added is empty in an earlier one."""
STATES = ("asked", "answered", "accepted", "mended", "gone")
"""What can become of a point and of its places; a point's is the first that any place has."""
State = Literal["asked", "answered", "accepted", "mended", "gone"]
Kind = Literal["change", "confirm", "datum"]
PATIENCE = 300
"""For so many seconds it is waited for another call that holds the register."""


class Submission(Struct, omit_defaults=True):
    """A design as it was sent.

    content: the digest of its bytes; text: its lines, of the newest of a design alone, so that the
    next can be compared with it.
    """

    content: str
    contractor: str
    design: str
    revision: str
    file: str
    received_on: str
    verdict: str
    loops: int
    text: list[str] = []


class Place(Struct, omit_defaults=True):
    """Where a point stands, by its id in the newest revision that has it.

    answer: the digest of a sender's answer that waits to be accepted.
    """

    subject: str
    state: State
    answer: str = ""


class Step(Struct, omit_defaults=True):
    """What became of a point on a day; by and what: who answered or accepted, and with what."""

    on: str
    revision: str
    state: State
    places: int
    by: str = ""
    what: str = ""


class Point(Struct):
    """One cause in one design; about: its rule, or the datum."""

    number: int
    contractor: str
    design: str
    kind: Kind
    about: str
    title: str
    severity: str
    state: State
    asked_on: str
    answer_by: str
    rounds: int
    places: list[Place]
    steps: list[Step]

    def settle(self, on: str, revision: str, by: str = "", what: str = "") -> None:
        """Take its state from its places, and tell the step where something moved."""
        states = {place.state for place in self.places}
        self.state = next((state for state in STATES if state in states), self.state)
        counted = sum(place.state == self.state for place in self.places)
        last = self.steps[-1] if self.steps else None
        if last is None or (last.state, last.places) != (self.state, counted) or what:
            self.steps.append(Step(on, revision, self.state, counted, by, what))

    @property
    def waits(self) -> bool:
        """Whether its sender is asked for something."""
        return self.state == "asked"

    @property
    def settled_on(self) -> str:
        """The day on which nothing was open any more; empty while something is."""
        waiting = ("asked",) if self.kind == "datum" else ("asked", "answered")
        return "" if self.state in waiting else self.steps[-1].on


class Accepted(Struct):
    """An answer of a sender's that counts: its digest (`outcome.answers.digest`)."""

    digest: str
    point: int
    subject: str
    by: str
    on: str


class Query(Struct):
    """Something that was not decided in silence: what, and by which rule it is held meanwhile."""

    on: str
    contractor: str
    design: str
    about: str


class Back(Struct):
    """A form that came back: the digest of its bytes, its file, the day, how many data it gave."""

    content: str
    file: str
    on: str
    given: int


class Form(Struct, omit_defaults=True):
    """A form for what a design lacked, as it went out.

    content: the digest of the design that it was made for; moved: records that go by another id
    since, with the section, empty for those that are gone; back: what came of it.
    """

    number: int
    contractor: str
    design: str
    revision: str
    content: str
    on: str
    moved: dict[str, str] = {}
    back: list[Back] = []


class Given(Struct, omit_defaults=True):
    """A datum that a sender gave by a form, kept until a revision of the design says otherwise.

    subject: `design`, or a record by its id in the newest revision; ended: why it does not count
    any more, empty while it does.
    """

    contractor: str
    design: str
    subject: str
    field: str
    text: str
    form: int
    on: str
    ended: str = ""


class Register(Struct):
    """All of a job."""

    register: int = VERSION
    last_number: int = 0
    submissions: list[Submission] = []
    points: list[Point] = []
    accepted: list[Accepted] = []
    queries: list[Query] = []
    forms: list[Form] = []
    given: list[Given] = []

    @property
    def digests(self) -> tuple[str, ...]:
        """The answers that count."""
        return tuple(one.digest for one in self.accepted)

    def number(self) -> int:
        """The next number of a point; none is ever given twice."""
        self.last_number += 1
        return self.last_number

    def ask(self, query: Query) -> None:
        """Note what is not decided, once."""
        same = (query.contractor, query.design, query.about)
        if all((one.contractor, one.design, one.about) != same for one in self.queries):
            self.queries.append(query)

    def newest(self, contractor: str, design: str) -> Submission | None:
        """What counts of a design."""
        found = [s for s in self.submissions if (s.contractor, s.design) == (contractor, design)]
        return found[-1] if found else None


def load(file: str) -> Register:
    """The register, a new one where there is none; raises Unwritable for what is none."""
    try:
        data = bounded.content(file, bounded.LARGEST_RECORD)
    except FileNotFoundError:
        return Register()
    except OSError as error:
        raise Unwritable(f"'{file}' cannot be read: {bounded.why(error)}") from None
    try:
        version = msgspec.json.decode(data, type=dict[str, object]).get("register")
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
        raise Unwritable(
            f"'{file}' is no register: {error}; bring back the last one from git"
        ) from None
    if version not in READ:
        why = "another version" if isinstance(version, int) else "no register of this program"
        raise Unwritable(f"'{file}' is {why}; this one writes version {VERSION}. Name another file")
    try:
        found = msgspec.json.decode(data, type=Register)
        found.register = VERSION
        return found
    except msgspec.ValidationError as error:
        raise Unwritable(f"'{file}' is a damaged register: {error}") from None


def save(register: Register, file: str) -> None:
    """Write it whole; raises Unwritable."""
    put(msgspec.json.format(msgspec.json.encode(register), indent=1) + b"\n", file)


@contextmanager
def held(file: str) -> Iterator[None]:
    """Nobody else reads or writes the registers of this folder meanwhile; raises Unwritable.

    The folder itself is locked, so that nothing is left beside the register.
    """
    folder = os.path.dirname(file) or "."
    try:
        import fcntl
    except ImportError:  # no such locks here
        yield
        return
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError as error:
        raise unwritable(file, error) from None
    try:
        until = time.monotonic() + PATIENCE
        while True:
            try:
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
                break
            except BlockingIOError:
                if time.monotonic() > until:
                    raise Unwritable(
                        f"'{file}' has been in use by another call for {PATIENCE} s; try again"
                    ) from None
                time.sleep(0.05)
            except OSError as error:
                raise Unwritable(
                    f"'{file}' cannot be locked ({bounded.why(error)}); keep it on a local disk"
                ) from None
        yield
    finally:
        with suppress(OSError):
            os.close(handle)
