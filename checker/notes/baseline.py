"""Known findings: those of one day, written to a file, so that later runs fail only on new or worse
ones.

A finding is identified by its design (the path from the file's folder), rule and subject; lines,
counts and words do not matter. It is worse where it is further beyond its limit, is graver, or
cannot be compared with the one in the file; and where it was judged and is open now, because
removing a datum is no improvement. What only other rules or another program version find on an
unchanged design is "judged otherwise". A design that was moved keeps its known findings.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from functools import lru_cache

import msgspec
from msgspec import UNSET, Raw, Struct

from checker import __version__
from checker.outcome.report import DesignReport, Mended
from checker.outcome.results import SEVERITIES, Kind, Measure, Notes, Result, Severity, State
from checker.outcome.runs import RuleSet
from checker.reading.design_files import sheet_file
from checker.reading.paths import path_from
from checker.reports import between

VERSION = 2
OLDER = (1,)
"""Older versions of the file that can be read; they hold only findings, nothing about designs."""
KINDS = ("fail", "open")
"""The kinds of results that are findings here, besides a critical review that nobody answered."""
BETWEEN = b",\n"
SLACK = 1e-6
"""Margins that differ by less than this share count as equal: the last digits of another
machine.
"""


class KnownFinding(Struct, frozen=True, omit_defaults=True):
    """A finding as it was.

    Attributes:
        design: its path, from the file's folder.
        rule: its id.
        subject: as reports name it.
        kind: of the result.
        severity: of the result.
        margin: what was left to its limit, negative beyond it; None where nothing was compared.
    """

    design: str
    rule: str
    subject: str
    kind: Kind
    severity: Severity
    margin: Measure | None = None


class KnownDesign(Struct, frozen=True):
    """A design as it was.

    Attributes:
        path: from the file's folder.
        name: of the project, else of the file.
        digest: of its content, and of the files that it names.
        judged: ids of the rules that were judged.
        subjects: what they were judged for, as reports name it.
    """

    path: str
    name: str
    digest: str
    judged: tuple[str, ...]
    subjects: tuple[str, ...]


class Known(Struct, frozen=True, forbid_unknown_fields=True):
    """A file of known findings, each decoded when it is needed.

    There may be some hundred thousand, of which a run needs those of one design at a time.

    Attributes:
        known: the version of the file's format.
        tool: the program's version.
        rules: those that the findings come from.
        findings: one a line.
        designs: one a line; none in a file of an older version.
    """

    known: int
    tool: str
    rules: RuleSet
    findings: tuple[Raw, ...]
    designs: tuple[Raw, ...] = ()

    def each(self) -> Iterator[KnownFinding]:
        """Every finding, in file order."""
        return map(FINDING.decode, self.findings)

    def each_design(self) -> Iterator[KnownDesign]:
        """Every design, likewise."""
        return map(DESIGN.decode, self.designs)


FINDING, DESIGN = msgspec.json.Decoder(KnownFinding), msgspec.json.Decoder(KnownDesign)


class _Place(Struct, frozen=True):
    """The design that a line is about."""

    design: str = ""
    path: str = ""


class _Mark(Struct, frozen=True):
    """The properties by which a moved design is recognised."""

    path: str
    name: str
    digest: str


PLACE, MARK = msgspec.json.Decoder(_Place), msgspec.json.Decoder(_Mark)


class Baseline(Struct, frozen=True):
    """The known findings that a run is compared with.

    Attributes:
        folder: where the paths in the file start, absolute.
        data: the file's bytes.
        moved: designs that have another path now, (now, before).
    """

    folder: str
    data: bytes
    moved: tuple[tuple[str, str], ...] = ()

    def name_of(self, path: str) -> str:
        """A design's path as the file of known findings has it.

        Args:
            path: of the design, absolute or from the working directory.

        Returns:
            From the file's folder, with `/` between folders.
        """
        return path_from(path, self.folder)


class BadKnown(Exception):
    """A file of known findings cannot be used; the message is for the user."""


def read(data: bytes) -> Known:
    """Read a file of known findings, and check every line of it.

    Args:
        data: the file's bytes.

    Returns:
        The file, its lines still to be decoded.

    Raises:
        BadKnown: it is no such file, or has a format that this program does not know.
    """
    try:
        known = msgspec.json.decode(data, type=Known)
        for _ in known.each():
            pass
        for _ in known.each_design():
            pass
    except (msgspec.DecodeError, UnicodeDecodeError) as error:
        raise BadKnown(
            f"this is not a file of known findings ({error}); 'prescreed freeze' writes one"
        ) from None
    if known.known != VERSION and known.known not in OLDER:
        raise BadKnown(
            f"the file's format is {known.known}, this program knows {VERSION}; "
            "write it again with 'prescreed freeze'"
        )
    return known


def line_of(design: KnownDesign) -> bytes:
    """A design as a line of the file.

    Args:
        design: the design as it is now.

    Returns:
        JSON, without the line's end.
    """
    return msgspec.json.encode(design)


def lines_of(findings: Iterable[KnownFinding]) -> bytes:
    """The findings of one design as lines of the file, in the order of rule and subject.

    Args:
        findings: in any order.

    Returns:
        JSON, lines joined by BETWEEN; empty without findings.
    """
    order = sorted(findings, key=lambda one: (one.rule, one.subject))
    return BETWEEN.join(map(msgspec.json.encode, order))


def written(
    rules: RuleSet, findings: Iterable[bytes], designs: Iterable[bytes] = ()
) -> Iterator[bytes]:
    """The file, part by part.

    Args:
        rules: the rules that the findings come from.
        findings: the lines of each design's findings (`lines_of`), in the order of their paths.
        designs: the line of each design (`line_of`), likewise.

    Returns:
        Bytes to be written one after another.
    """
    head = msgspec.json.encode(
        {"known": VERSION, "tool": __version__, "rules": RuleSet(rules.edition, rules.digest)}
    )
    yield head[:-1] + b',"designs":[\n'
    yield from between(designs, BETWEEN)
    yield b'\n],"findings":[\n'
    yield from between(filter(None, findings), BETWEEN)
    yield b"\n]}\n"


def moved(
    baseline: Baseline, paths: Iterable[str], look: Callable[[str], tuple[str, str]]
) -> Baseline:
    """Recognise designs that were moved since the findings were written down.

    A new design is one that is gone from its old path where it has the same content, or where among
    all new and all missing designs these two alone have the same name. A copy counts as a new
    design.

    Args:
        baseline: the known findings.
        paths: the paths of the run's designs.
        look: from the path of a design to its content's digest and its name; called for new designs
            only.

    Returns:
        The same known findings with what has moved, or `baseline` itself where nothing has.

    Raises:
        BadKnown: the file cannot be used.
    """
    designs = [MARK.decode(one) for one in _read(baseline.data).designs]
    known = {one.path for one in designs}
    named = {baseline.name_of(path): path for path in paths}
    new = [(path, name) for name, path in named.items() if name not in known]
    read = {sheet_file(name) for name in named}
    gone = [
        one
        for one in designs
        if one.path not in named
        # A workbook that was read and had a design of this name no longer has one.
        and (sheet_file(one.path) in read or not _there(baseline.folder, one.path))
    ]
    if not new or not gone:
        return baseline
    found: dict[str, str] = {}
    seen = {name: look(path) for path, name in new}
    for by in (0, 1):
        marks: dict[str, list[str]] = {}
        for name, about in seen.items():
            marks.setdefault(about[by], []).append(name)
        # What is known of a design counts once: one that was found is not looked for again.
        for one in gone if not by else [own for own in gone if own.path not in found.values()]:
            mark = (one.digest, one.name)[by]
            same = [other for other in gone if (other.digest, other.name)[by] == mark]
            if mark and len(same) == 1 and len(marks.get(mark, ())) == 1:
                found.setdefault(marks[mark][0], one.path)
    return msgspec.structs.replace(baseline, moved=tuple(sorted(found.items())))


def _there(folder: str, path: str) -> bool:
    """Whether a design is still at its path; one in a workbook is where this is."""
    return os.path.exists(os.path.join(folder, sheet_file(path)))


def is_finding(result: Result) -> bool:
    """Whether a result belongs in a file of known findings.

    Args:
        result: of any kind.

    Returns:
        True for what fails or is open and is not waived, and for a critical review of the design's
        stage that nobody has answered.
    """
    unanswered = result.kind == "review" and result.severity == "critical" and not result.answer
    return not result.waived and (result.kind in KINDS or (unanswered and not result.due))


def finding(design: str, result: Result) -> KnownFinding:
    """A result as the file has it.

    Args:
        design: the design's path as the file has it (`Baseline.name_of`).
        result: one that `is_finding`.

    Returns:
        A record for `lines_of`.
    """
    margin = None if result.margin is UNSET else result.margin
    return KnownFinding(design, result.rule, result.subject, result.kind, result.severity, margin)


def compare(
    design: DesignReport,
    whole: str,
    baseline: Baseline,
    rules: RuleSet | None = None,
    digest: str = "",
) -> dict[int, Notes]:
    """Compare a design's findings with the known ones.

    Known findings that are gone are put into `design.mended`.

    Args:
        design: the design's report.
        whole: the design's absolute path.
        baseline: the known findings.
        rules: the rules of this run.
        digest: the digest of the design's content.

    Returns:
        For each finding, by its index, a note: new, worse, judged otherwise or unchanged.
    """
    name = baseline.name_of(whole)
    name = dict(baseline.moved).get(name, name)
    line, lines = _index(baseline.data).get(name, (None, ()))
    own = None if line is None else DESIGN.decode(line)
    before = {(one.rule, one.subject): one for one in map(FINDING.decode, lines)}
    same = (
        own is not None and digest and digest == own.digest and _judged_otherwise(baseline, rules)
    )
    notes: dict[int, Notes] = {}
    for place, pattern in enumerate(design.found.patterns):
        if pattern.kind not in KINDS and not (pattern.kind == "review" and pattern.unproven):
            continue
        result = design.result(place)
        known = before.pop((result.rule, result.subject), None)
        state = _state(result, known, own)
        notes[place] = Notes(state="judged otherwise" if same and state != "unchanged" else state)
    design.mended = tuple(Mended(rule, subject) for rule, subject in sorted(before))
    return notes


def _judged_otherwise(baseline: Baseline, rules: RuleSet | None) -> bool:
    """Whether the known findings come from other rules or another program version."""
    known = _read(baseline.data)
    return rules is not None and (known.tool, known.rules.digest) != (__version__, rules.digest)


def _state(result: Result, known: KnownFinding | None, design: KnownDesign | None) -> State:
    if result.kind == "review":
        if known is None:
            return "new"
        return "unchanged" if known.kind == "review" else "worse"
    if result.kind == "open":
        if known is not None:
            return "unchanged" if known.kind == "open" else "worse"
        was = design is not None and result.rule in design.judged
        return "worse" if design and was and result.subject in design.subjects else "new"
    if known is None:
        return "new"
    graver = SEVERITIES.index(result.severity) < SEVERITIES.index(known.severity)
    failed = known.kind == "fail"
    return "unchanged" if failed and not graver and not _further(result, known) else "worse"


def _further(result: Result, known: KnownFinding) -> bool:
    """Whether the result is further beyond its limit."""
    if result.margin is UNSET and known.margin is None:
        return False
    now = None if result.margin is UNSET else result.margin
    then = known.margin
    if now is None or then is None or now.unit != then.unit:
        return True
    if now.magnitude is None or then.magnitude is None:
        return now.magnitude != then.magnitude
    return now.magnitude < then.magnitude - SLACK * max(1.0, abs(then.magnitude))


@lru_cache(maxsize=2)
def _read(data: bytes) -> Known:
    return read(data)


@lru_cache(maxsize=2)
def _index(data: bytes) -> dict[str, tuple[Raw | None, list[Raw]]]:
    """For each design the lines about it and its findings, not yet decoded."""
    known = _read(data)
    found: dict[str, tuple[Raw | None, list[Raw]]] = {
        PLACE.decode(one).path: (one, []) for one in known.designs
    }
    for one in known.findings:
        found.setdefault(PLACE.decode(one).design, (None, []))[1].append(one)
    return found
