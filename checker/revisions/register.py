"""The register of a job: what was sent, what was asked, and what became of each point.

It is one plain JSON file (`schemas/register.schema.json`), which git can compare. A point is one
cause in one design (a rule that fails, something to confirm, a missing datum) with all its places;
its number is permanent. Places follow their loops from revision to revision (`matching`), so a
point is mended only where the loop that had it is still there.

No clock is read here: the caller passes the day.
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
"""Versions that can be read; what a later one added is empty in an earlier one."""
STATES = ("asked", "answered", "accepted", "mended", "gone")
"""The states of points and places; a point's is the first in this order that any place has."""
State = Literal["asked", "answered", "accepted", "mended", "gone"]
Kind = Literal["change", "confirm", "datum"]
PATIENCE = 300
"""How many seconds to wait for another process that has locked the register."""


class Submission(Struct, omit_defaults=True):
    """A design as it was sent.

    content: the digest of its bytes; text: its lines, only for the newest of a design, for
    comparing the next one with it.
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
    """One place of a point, by its id in the newest revision that has it.

    answer: the digest of a sender's answer that is waiting to be accepted.
    """

    subject: str
    state: State
    answer: str = ""


class Step(Struct, omit_defaults=True):
    """What became of a point on a day; by, what: who answered or accepted, and with which words."""

    on: str
    revision: str
    state: State
    places: int
    by: str = ""
    what: str = ""


class Point(Struct):
    """One cause in one design; about: its rule, or the missing datum."""

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
        """Set the point's state from its places, and add a step where something changed.

        Args:
            on: the day, ISO 8601.
            revision: the revision that the places are of.
            by: who answered or accepted; empty where nobody did.
            what: their words; a step is added for these in any case.
        """
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
        """The day from which nothing was open any more; empty while something is."""
        waiting = ("asked",) if self.kind == "datum" else ("asked", "answered")
        return "" if self.state in waiting else self.steps[-1].on


class Accepted(Struct):
    """A sender's answer that counts, by its digest (`outcome.answers.digest`)."""

    digest: str
    point: int
    subject: str
    by: str
    on: str


class Query(Struct):
    """Something that only the user can decide: what, and the rule that applies until then."""

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
    """A form for missing data, as it went out.

    content: the digest of the design that it was made for; moved: records that have another id
    since, with the section, empty for those that are gone; back: the forms that came back.
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
    """A datum that a sender gave by a form; it counts until a revision of the design states it.

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
    """Everything about a job."""

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
        """The next number of a point; no number is used twice."""
        self.last_number += 1
        return self.last_number

    def ask(self, query: Query) -> None:
        """Add a query, once."""
        same = (query.contractor, query.design, query.about)
        if all((one.contractor, one.design, one.about) != same for one in self.queries):
            self.queries.append(query)

    def newest(self, contractor: str, design: str) -> Submission | None:
        """The submission of a design that counts.

        Args:
            contractor: the sender, named as in the register.
            design: the design, named as in the register.

        Returns:
            The last that came; None where none did.
        """
        found = [s for s in self.submissions if (s.contractor, s.design) == (contractor, design)]
        return found[-1] if found else None


def load(file: str) -> Register:
    """Read a register.

    Args:
        file: its path.

    Returns:
        The register, in the present version; an empty one where there is no file.

    Raises:
        Unwritable: the file cannot be read, is damaged or is no register; the message is for the
            user.
    """
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
            f"'{file}' is not a register: {error}; bring back the last one from git"
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
    """Write a register, whole or not at all.

    Args:
        register: the register.
        file: its path; what was there is replaced.

    Raises:
        Unwritable: the file cannot be written.
    """
    put(msgspec.json.format(msgspec.json.encode(register), indent=1) + b"\n", file)


@contextmanager
def locked(file: str) -> Iterator[None]:
    """Lock the registers of a folder against other processes, as a context.

    The folder itself is locked, so that no lock file is left beside the register. Where a system
    has no such locks, nothing is locked.

    Args:
        file: the path of a register in the folder; it need not be there yet.

    Returns:
        A context that gives nothing; the lock ends with it.

    Raises:
        Unwritable: the folder cannot be locked, or another process keeps it locked for more than
            `PATIENCE` seconds.
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
