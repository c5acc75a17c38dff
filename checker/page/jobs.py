"""The dropped files and the results made from them. All stays in memory; no file is written.

Files that a design names are looked for among the dropped files, never on the disk.
"""

from __future__ import annotations

import posixpath
import secrets
import threading
from collections import OrderedDict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from checker.page.unpacking import Refused, unpacked
from checker.reading import beside
from checker.reading.design_files import (
    BESIDE_WORDS,
    ENDINGS,
    ONE_OF,
    SHEETS,
    is_json,
)
from checker.reading.mistakes import OfTheFile, Unreadable
from checker.reading.other_files import what_else
from checker.run import batch, sheets

if TYPE_CHECKING:
    from checker.forms.model import Form, Record
    from checker.intake.reading import Intake
    from checker.intake.sheets import Book
    from checker.outcome.report import DesignReport
    from checker.revisions.comparison import Pair

MOST_JOBS = 12
"""Most uploads that are kept in memory; the oldest is dropped."""


@dataclass(frozen=True)
class Dropped:
    """One design that was dropped: its path, its text, and the sheet that it is from."""

    path: str
    text: bytes
    sheet: str = ""


@dataclass
class Job:
    """One upload.

    files: what was dropped, by name; designs: in path order; books, read: of each sheet file;
    forms: sheets that are forms for missing data; answered: what was made of each; problems: what
    cannot be read; passed: files that are not designs, with why; proposals: proposed maps for
    sheets without one.
    """

    key: str
    files: dict[str, bytes]
    designs: list[Dropped] = field(default_factory=list)
    books: dict[str, Book] = field(default_factory=dict)
    read: dict[str, list[Intake]] = field(default_factory=dict)
    problems: list[Unreadable] = field(default_factory=list)
    passed: list[tuple[str, str]] = field(default_factory=list)
    proposals: dict[str, str] = field(default_factory=dict)
    forms: list[str] = field(default_factory=list)
    answered: dict[str, list[str]] = field(default_factory=dict)


class Jobs:
    """The uploads in memory; one request is worked on at a time, because the engine keeps
    tables.
    """

    def __init__(self) -> None:
        self._jobs: OrderedDict[str, Job] = OrderedDict()
        self.lock = threading.Lock()

    def take(self, dropped: Iterable[tuple[str, bytes]]) -> Job:
        """Read files that were dropped, as a new job.

        Args:
            dropped: name and content of each file; zips are opened.

        Returns:
            The job, which replaces the oldest where there are too many; what cannot be read is
            among its problems.

        Raises:
            Refused: no file came, they are too many or too large, or a zip is damaged.
        """
        files = dict(unpacked(dropped))
        if not files:
            raise Refused("No file came with the form. Choose one, or drop it on the field.")
        with self.lock:
            return self._kept(_made(files))

    def mapped(self, job: Job, sheet: str, text: str) -> Job:
        """Read a job's files again, with this map for a sheet.

        Args:
            job: the job, which stays as it is.
            sheet: the name of a sheet among its files.
            text: the map, as the user left it in the form.

        Returns:
            A new job; mistakes in the map are among its problems.
        """
        files = dict(job.files)
        files[sheets.map_beside(sheet)] = text.replace("\r\n", "\n").encode()
        with self.lock:
            return self._kept(_made(files))

    def recorded(
        self, job: Job, design: Dropped, posted: Mapping[str, str]
    ) -> tuple[Job | None, list[str]]:
        """Put records from site into one of a job's designs.

        Args:
            job: the job, which stays as it is.
            design: one of its designs.
            posted: the fields of the form for records, by their names on the page.

        Returns:
            A new job with the records, and no lines; or None, and what cannot be used, a line each.
        """
        with self.lock:
            text, wrong = _recorded(job, design, posted)
            if text is None:
                return None, wrong
            return self._kept(_made({**job.files, design.path: text})), []

    def get(self, key: str) -> Job | None:
        """A job that is still in memory.

        Args:
            key: the part of the address that names it.

        Returns:
            The job; None where there is none, or no longer.
        """
        return self._jobs.get(key)

    def _kept(self, job: Job) -> Job:
        self._jobs[job.key] = job
        while len(self._jobs) > MOST_JOBS:
            self._jobs.popitem(last=False)
        return job


def _made(files: dict[str, bytes]) -> Job:
    job = Job(secrets.token_urlsafe(9), files)
    with beside.brought(files):
        for name in sorted(files):
            lower = name.lower()
            own = next((w for e, w in BESIDE_WORDS.items() if lower.endswith(e)), "")
            if own:
                job.passed.append((name, own))
            elif lower.endswith(SHEETS):
                _sheet(job, name)
            elif lower.endswith(ENDINGS):
                job.designs.append(Dropped(name, files[name]))
            else:
                job.passed.append((name, "neither a design nor a sheet"))
        _settle(job)
        for name in job.forms:
            job.answered[name] = [*_answered(job, name)]
    job.designs.sort(key=lambda one: one.path)
    return job


def _settle(job: Job) -> None:
    """Remove what is not a design, and what cannot be read."""
    kept = []
    for one in job.designs:
        _, unreadable = batch.check([(one.path, one.text)])
        if not unreadable:
            kept.append(one)
        elif why := what_else(one.text):
            job.passed.append((one.path, why))
        else:
            job.problems += unreadable
    job.designs = kept


def _answered(job: Job, name: str) -> Iterator[str]:
    """Fill a form for missing data into the design that it was made for; returns remarks."""
    from datetime import date

    from checker.intake.reading import book_of
    from checker.revisions.by_form import completed, design_of
    from checker.revisions.filled_in import returned
    from checker.revisions.revision import read

    back = returned(book_of(name, job.files[name]), name)
    if back is None:
        yield (
            "This is a form for what is missing, and it is damaged: its hidden sheet is not as it "
            "went out. Copy the answers into a fresh form."
        )
        return
    said = f"This is form {back.number} for what is missing in '{back.design}' of {back.contractor}"
    designs, _ = read([(one.path, one.text) for one in job.designs])
    number = design_of(back, designs)
    if number is None:
        yield f"{said}. Drop that design together with it, and its answers are put into it."
        return
    made = completed(back, designs[number], date.today(), judging_plan())
    own = next(one for one in job.designs if one.path == designs[number].report.path)
    job.designs[job.designs.index(own)] = replace(own, text=made.design.data)
    data = "1 answer is" if made.taken == 1 else f"{made.taken} answers are"
    yield f"{said}: {data} put into '{own.path}', as it is judged here. Take it as 'Design file'."
    yield from made.notes


def _sheet(job: Job, name: str) -> None:
    from checker.forms.model import MISSING
    from checker.forms.reading import carried
    from checker.intake.maps import BadMap, load
    from checker.intake.reading import book_of
    from checker.intake.sheets import BadSheet
    from checker.intake.suggesting import suggest

    try:
        book = book_of(name, job.files[name])
        if carried(book, MISSING) is not None:
            job.forms.append(name)
            return
        own_map = sheets.map_among(name, list(job.files))
        plan = load(own_map, job.files[own_map]) if own_map else None
        found = sheets.designs_in(book, plan)
    except BadSheet as bad:
        job.problems.append(OfTheFile(name, 1, 1, f"{str(bad)[:1].upper()}{str(bad)[1:]}."))
        return
    except BadMap as bad_map:
        job.problems += [Unreadable(own_map, p.line, p.column, p.message) for p in bad_map.problems]
        job.proposals[name] = job.files[own_map].decode("utf-8", "replace")
        return
    job.books[name] = book
    if found is None:
        job.proposals[name] = suggest(book)
        return
    job.read[name] = found
    for one in found:
        path = f"{name}{ONE_OF}{one.name}" if one.name else name
        if one.text:
            job.designs.append(Dropped(path, one.text.encode(), name))
        else:
            job.problems += [sheets.as_unreadable(path, remark) for remark in one.read.mistakes]
            if own_map:
                job.proposals[name] = job.files[own_map].decode("utf-8", "replace")


def judging_plan(**how: Any) -> batch.Plan:
    """Designs are judged by themselves, on the day of this computer."""
    from datetime import date

    from msgspec import structs

    return structs.replace(
        batch.BY_THE_DESIGN, today=date.today(), newest_day=batch.newest_day(), **how
    )


def judged(
    job: Job, designs: Iterable[Dropped], changes: tuple[str, ...] = (), **how: Any
) -> tuple[list[DesignReport], list[Unreadable]]:
    """Judge designs of a job, as they are or with these changes.

    Args:
        job: the job, whose other files the designs may name.
        designs: some of its designs.
        changes: changes to make before judging, each as `path=text`.
        **how: further arguments of `checker.run.batch.check`.

    Returns:
        The reports, and why designs could not be judged.
    """
    plan = judging_plan(changes=changes)
    with beside.brought(job.files):
        found: list[DesignReport] = []
        bad: list[Unreadable] = []
        for one in designs:
            reports, unreadable = batch.check([(one.path, one.text)], plan, **how)
            found += reports
            bad += unreadable
    return found, bad


def site_form_of(job: Job, design: Dropped) -> tuple[Form, dict[str, list[Record]]]:
    """The form for what is done on site.

    Args:
        job: the job, whose other files the design may name.
        design: one of its designs.

    Returns:
        The form, and by block what the design already states.
    """
    return _site_form(*_as_stated(job, design))


def visit_form_of(job: Job, design: Dropped) -> tuple[Form, dict[str, list[Record]]]:
    """The form for a visit to the house of a design, with its rooms, headers and loops.

    Args:
        job: the job, whose other files the design may name.
        design: one of its designs.

    Returns:
        The form, and by block what is known before the visit.
    """
    from checker.audit.jobs import from_texts
    from checker.audit.visit import known_records, visit_form

    with beside.brought(job.files):
        sheet = from_texts(design.path, [(design.path, design.text)]).current
    return visit_form(sheet), known_records(sheet)


FORMS = {"record": site_form_of, "visit": visit_form_of}
"""The forms that the page shows, by their addresses."""


def visited(job: Job, design: Dropped, posted: Mapping[str, str]) -> tuple[bytes | None, list[str]]:
    """The file of readings from a filled-in form for a visit.

    Args:
        job: the job, whose other files the design may name.
        design: one of its designs.
        posted: the fields of the form, by their names on the page.

    Returns:
        The file, and no lines; or None, and what cannot be used, a line each.
    """
    from checker.audit.jobs import NoJob, from_texts
    from checker.audit.visit import as_readings
    from checker.forms.posted import answers

    found = answers(*visit_form_of(job, design), posted)
    if found.refused:
        return None, [f"{one.path}: {one.message}." for one in found.refused]
    text = as_readings(found)
    try:
        with beside.brought(job.files):
            from_texts(design.path, [(design.path, design.text)], ("the visit", text))
    except NoJob as none:
        return None, [one.message for one in none.problems]
    return text, []


def _as_stated(job: Job, design: Dropped) -> tuple[DesignReport, Any]:
    """A design's report with what it states, and the design as it was typed."""
    from checker.reading import yaml_reader

    (report,), _ = judged(job, [design], with_given=True)
    return report, yaml_reader.read(design.text, json=is_json(design.path))


def _site_form(report: DesignReport, document: Any) -> tuple[Form, dict[str, list[Record]]]:
    from checker.site.records import known, site_form

    return site_form(report), known(report, document)


def _recorded(
    job: Job, design: Dropped, posted: Mapping[str, str]
) -> tuple[bytes | None, list[str]]:
    from checker.design.changes import BadChange
    from checker.forms.posted import answers
    from checker.site.recording import recorded
    from checker.site.records import NoRecord, changes

    report, document = _as_stated(job, design)
    found = answers(*_site_form(report, document), posted)
    if found.refused:
        return None, [f"{one.path}: {one.message}." for one in found.refused]

    def judge(text: bytes) -> DesignReport:
        reports, bad = judged(job, [Dropped(design.path, text)], with_given=True)
        if bad:
            raise BadChange("; ".join(one.message for one in bad))
        return reports[0]

    try:
        made = changes(found, report, document)
        text, _ = recorded(design.text, made, judge, is_json=is_json(design.path))
    except (BadChange, NoRecord) as bad:
        return None, [str(bad)]
    return text, []


def changed(job: Job, design: Dropped, changes: tuple[str, ...]) -> tuple[Pair | None, list[str]]:
    """Compare a design with changed values with the original.

    Args:
        job: the job, whose other files the design may name.
        design: one of its designs.
        changes: the changes, each as `path=text`.

    Returns:
        The comparison, and no lines; or None, and what is wrong with the changes, each line once.
    """
    from checker.revisions.comparing import compare
    from checker.revisions.revision import read

    with beside.brought(job.files):
        before, _ = read([(design.path, design.text)], judging_plan())
        after, bad = read([(design.path, design.text)], judging_plan(changes=changes))
        if bad:
            return None, list(dict.fromkeys(one.message for one in bad))
        (pair,) = compare(before, after).pairs
    return pair, []


def marked(job: Job, sheet: str) -> bytes:
    """The marked copy of a sheet of the job.

    Args:
        job: the job.
        sheet: the name of a sheet file among its `books`.

    Returns:
        The workbook, with the findings of its designs at their cells.
    """
    from checker.forms.marking import marked as copy

    own = [one for one in job.designs if one.sheet == sheet]
    reports, _ = judged(job, own)
    return copy(job.books[sheet], [one.read for one in job.read.get(sheet, ())], reports)


def name_of(design: Dropped, ending: str) -> str:
    """A file name for something made from a design.

    Args:
        design: the design, whose path may name one of several in a sheet.
        ending: what the name ends with, such as `.yaml`.

    Returns:
        The name without folders.
    """
    stem = posixpath.basename(design.path).replace(ONE_OF, "-")
    for own in (*SHEETS, *ENDINGS):
        if stem.lower().endswith(own):
            stem = stem[: -len(own)]
    return f"{stem.replace('.xlsx-', '-')}{ending}"
