"""The state of a run while it goes on: its counts, what became of each file, its answer."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import replace

from checker.outcome.runs import Run, Totals
from checker.outcome.status import Answer, GateCounts, answer
from checker.reading.ledger import (
    CRASHED,
    FOUND,
    JUDGED,
    NAMED,
    PASSED_OVER,
    UNREADABLE,
    FileState,
    counted,
)
from checker.reading.mistakes import Crashed, Unreadable

if TYPE_CHECKING:
    from checker.run.batch import Checked


class Gate(Struct, frozen=True):
    """Which findings of some designs count, as in `GateCounts`.

    Attributes:
        threshold: the mildest severity that counts, or `never`.
        demanded: rules that must not be open.
        every: whether no rule may be open.
        allow_unproven: whether designs with only open or unanswered results pass.
    """

    threshold: str
    demanded: tuple[str, ...] = ()
    every: bool = False
    allow_unproven: bool = False

    def counts(self, totals: Totals) -> GateCounts:
        """The counts of some designs with what this gate asks of them.

        Args:
            totals: of designs with the same gate.

        Returns:
            What `outcome.status.answer` takes.
        """
        demanded = tuple(totals.open_of) if self.every else self.demanded
        return GateCounts(totals, self.threshold, demanded, self.allow_unproven)


class Course:
    """A run, or a part of it, while it goes on."""

    def __init__(
        self,
        named: frozenset[str],
        problems: Iterable[Unreadable] = (),
        passed_over: Iterable[FileState] = (),
        idle: str = "",
    ) -> None:
        """Begin with what is known before the first design.

        Args:
            named: files that the call names itself.
            problems: why paths cannot be read, and files on which the program failed.
            passed_over: files that are not judged.
            idle: why nothing is judged, where nothing is and that is not a mistake.
        """
        self.named = named
        self.idle = idle
        self.totals = Totals()
        self.by_gate: dict[Gate, Totals] = {}
        self.files = [*passed_over]
        self.unreadable: list[Unreadable] = []
        self.crashed: list[Crashed] = []
        for one in problems:
            if isinstance(one, Crashed):
                self.crashed.append(one)
                how = NAMED if one.path in named else FOUND
                self.files.append(FileState(one.path, CRASHED, how))
            else:
                self.unreadable.append(one)
        self.answer = Answer()
        self._apart: list[str] = []

    @property
    def judged(self) -> list[str]:
        """The designs that were judged; for reports in parts only those that waivers may name."""
        return [*(one.path for one in self.files if one.state == JUDGED), *self._apart]

    def take(self, gate: Gate, checked: Checked) -> None:
        """Add the results of some designs with the same gate.

        Args:
            gate: theirs.
            checked: the results of their files; not changed.
        """
        totals = self.by_gate.setdefault(gate, Totals())
        if checked.apart is not None:
            totals.join(checked.apart)
            self._apart += checked.judged
        for path, entry in zip(checked.paths, checked.entries, strict=True):
            how = NAMED if path in self.named else FOUND
            if entry.crashed is not None:
                self.crashed.append(entry.crashed)
                self.files.append(FileState(entry.path, CRASHED, how))
            elif entry.unreadable and entry.else_is and how == FOUND:
                # What a search of a folder came upon, and is no design at all.
                self.files.append(FileState(entry.path, PASSED_OVER, entry.else_is))
            elif entry.unreadable:
                self.unreadable.extend(entry.unreadable)
                self.files.append(FileState(entry.path, UNREADABLE, how))
            else:
                totals.join(entry.totals)
                self.files.append(FileState(entry.path, JUDGED, how))

    def end(self, run: Run) -> Run:
        """The run with what is known at its end; to be called once, after all results are taken.

        Sets `totals` and `answer`, and sorts `unreadable`.

        Args:
            run: what was known at its beginning.

        Returns:
            A copy with files in path order, crashes and the sentence of the answer.
        """
        for totals in self.by_gate.values():
            self.totals.join(totals)
        self.unreadable.sort(key=lambda one: (one.path, one.line, one.column))
        bad = len({one.path for one in self.unreadable})
        self.totals.unreadable = bad
        idle = "" if self.totals.designs else self.idle
        nothing = not (self.totals.designs or bad or self.crashed or idle)
        self.answer = answer(
            [gate.counts(totals) for gate, totals in self.by_gate.items()],
            unreadable=bad,
            crashed=len(self.crashed),
            nothing=(counted(self.files) or "no design was found") if nothing else "",
            nothing_to_do=idle,
        )
        return replace(
            run,
            files=tuple(sorted(self.files, key=lambda one: one.path)),
            crashed=tuple(replace(one, trace="") for one in self.crashed),
            answer=self.answer.line,
        )
