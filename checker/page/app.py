"""The page as a web application: a form to drop files into, and the results.

It answers only requests to this computer's own names with a random token in the address, writes
nothing to the disk, loads nothing from elsewhere, and works without scripts.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar
from urllib.parse import quote

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.formparsers import MultiPartException, MultiPartParser
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.routing import Mount, Route

from checker.page import jobs
from checker.page.guard import Guard
from checker.page.jobs import Dropped, Job, Jobs
from checker.page.showing import said, shown
from checker.page.unpacking import LARGEST, MOST_FILES, Refused
from checker.reading.design_files import is_json

if TYPE_CHECKING:
    from checker.revisions.comparison import Pair

MOST_FIELDS = 60
"""Most fields of a form besides files."""
MOST_CHANGES = 12
"""Most changes that are tried at once."""
MOST_RECORDS = 4_000
"""Most fields of a form for records, which has one for each cell."""
LONGEST = 500
"""Longest change, in characters."""
WORKBOOK = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
Made = TypeVar("Made")

MultiPartParser.spool_max_size = LARGEST * 2  # so that nothing is written to the disk


def app(token: str) -> Starlette:
    """The page as an application, without any upload yet.

    Args:
        token: the first part of all its addresses, which nobody can guess.

    Returns:
        The application; it answers only requests from this computer.
    """
    page = _Page(token)
    routes = [
        Route("/", page.start, methods=["GET"]),
        Route("/read", page.read, methods=["POST"]),
        Route("/new", page.new, methods=["GET"]),
        Route("/{job}/", page.job, methods=["GET"]),
        Route("/{job}/map", page.map, methods=["POST"]),
        Route("/{job}/{number:int}/change", page.change, methods=["GET"]),
        Route("/{job}/{number:int}/record", page.record, methods=["GET", "POST"]),
        Route("/{job}/{number:int}/visit", page.visit, methods=["GET", "POST"]),
        Route("/{job}/{number:int}/{what}", page.made, methods=["GET"]),
        Route("/{job}/sheet/{number:int}", page.marked, methods=["GET"]),
    ]
    made = Starlette(
        routes=[Mount(f"/{token}", routes=routes)],
        exception_handlers={
            HTTPException: page.failed, Refused: page.refused, MultiPartException: page.refused,
            Exception: page.broken,
        },
    )  # fmt: skip
    made.add_middleware(Guard)
    return made


class _Page:
    """The pages of the application."""

    def __init__(self, token: str) -> None:
        self.base = f"/{token}/"
        self.jobs = Jobs()

    # What is shown.

    async def start(self, request: Request) -> Response:
        return shown("start.html", base=self.base, title="Check a design")

    async def read(self, request: Request) -> Response:
        """Read the dropped files."""
        form = await request.form(max_files=MOST_FILES + 1, max_fields=MOST_FIELDS)
        dropped = []
        for name in ("files", "folder"):
            for one in form.getlist(name):
                if not isinstance(one, str) and one.filename:
                    dropped.append((one.filename, await one.read()))
        job = await run_in_threadpool(self.jobs.take, dropped)
        return RedirectResponse(f"{self.base}{job.key}/", 303)

    async def map(self, request: Request) -> Response:
        """Read a sheet by a map that the user has read through."""
        job = self._job(request)
        form = await request.form(max_files=0, max_fields=MOST_FIELDS)
        sheet, text = str(form.get("sheet", "")), str(form.get("map", ""))
        if sheet not in job.files:
            raise HTTPException(404)
        fresh = await run_in_threadpool(self.jobs.mapped, job, sheet, text)
        return RedirectResponse(f"{self.base}{fresh.key}/", 303)

    async def new(self, request: Request) -> Response:
        """The form to fill in."""
        import io

        from checker.forms.declaring import house
        from checker.forms.writing import workbook

        def make() -> bytes:
            made = io.BytesIO()
            workbook(made, house())
            return made.getvalue()

        return _taken(await run_in_threadpool(make), "house.xlsx", WORKBOOK)

    async def job(self, request: Request) -> Response:
        """The results of an upload."""
        job = self._job(request)
        return await self._worked(self._overview, job)

    def _overview(self, job: Job) -> Response:
        from checker.reports.sentences import worst_first
        from checker.reports.verdicts import sentence

        reports, _ = jobs.judged(job, job.designs)
        rows: list[dict[str, Any]] = []
        for number, (design, report) in enumerate(zip(job.designs, reports, strict=True)):
            fails = worst_first(r for r in report.results_of("fail") if not r.waived)
            rows.append(
                {"number": number, "design": design, "report": report, "says": sentence(report),
                 "fails": fails, "asked": report.questions,
                 "sheet_remarks": dict(report.sheet_remarks),
                 "marks": [*job.books].index(design.sheet) if design.sheet else None}
            )  # fmt: skip
        return shown(
            "job.html", base=self.base, job=job, rows=rows, sheets=[*job.read],
            title=rows[0]["report"].name if len(rows) == 1 else f"{len(rows)} designs",
        )  # fmt: skip

    async def change(self, request: Request) -> Response:
        """A design with changed values, compared with the original."""
        job, design = self._design(request)
        changes = [text for text in request.query_params.getlist("with") if text.strip()]
        path = request.query_params.get("path", "").strip()
        value = request.query_params.get("value", "").strip()
        if path and value:
            changes = [one for one in changes if one.partition("=")[0] != path]
            changes.append(f"{path}={value}")
        if len(changes) > MOST_CHANGES or any(len(one) > LONGEST for one in changes):
            raise Refused(f"{MOST_CHANGES} changes at most are tried at once.")
        return await self._worked(self._changed, job, design, request, changes)

    def _changed(self, job: Job, design: Dropped, request: Request, changes: list[str]) -> Response:
        pair: Pair | None = None
        wrong: list[str] = []
        if changes:
            pair, wrong = jobs.changed(job, design, tuple(changes))
        links = [
            (one, "?" + "&".join(f"with={quote(other)}" for other in changes if other != one))
            for one in changes
        ]
        return shown(
            "change.html", base=self.base, job=job, design=design,
            number=request.path_params["number"], changes=links, pair=pair, wrong=wrong,
            paths=_paths(job, design), path=request.query_params.get("path", ""),
            title="Change a value",
        )  # fmt: skip

    async def record(self, request: Request) -> Response:
        """The form for what was done on site; once filled in, the design with these records."""
        job, design = self._design(request)
        posted, wrong = await _posted(request), list[str]()
        if request.method == "POST":
            fresh, wrong = await run_in_threadpool(self.jobs.recorded, job, design, posted)
            if fresh is not None:
                return RedirectResponse(f"{self.base}{fresh.key}/", 303)
        return await self._worked(self._form, "record", job, design, request, posted, wrong)

    async def visit(self, request: Request) -> Response:
        """The form for a visit after a complaint; once filled in, a file of readings."""
        job, design = self._design(request)
        posted, wrong = await _posted(request), list[str]()
        if request.method == "POST":
            made, wrong = await run_in_threadpool(jobs.visited, job, design, posted)
            if made is not None:
                return _taken(made, "visit.readings.yaml", "application/yaml")
        return await self._worked(self._form, "visit", job, design, request, posted, wrong)

    def _form(
        self, what: str, job: Job, design: Dropped, request: Request, posted: dict[str, str],
        wrong: list[str],
    ) -> Response:  # fmt: skip
        from checker.forms.posted import fields

        form, known = jobs.FORMS[what](job, design)
        parts = [
            (page, [(block, fields(block, known.get(block.name, ()))) for block in page.blocks])
            for page in form.pages
        ]
        return shown(
            f"{what}.html", 400 if wrong else 200, base=self.base, job=job, design=design,
            number=request.path_params["number"], form=form, parts=parts, posted=posted,
            wrong=wrong, title=form.title,
        )  # fmt: skip

    # What is taken away.

    async def made(self, request: Request) -> Response:
        """The report, the site sheet, the letter, or the design itself."""
        job, design = self._design(request)
        what = request.path_params["what"]
        makers: dict[str, Callable[[Job, Dropped], Response]] = {
            "report": _report, "site-sheet": _site_sheet, "letter": _letter, "design": _text,
        }  # fmt: skip
        if what not in makers:
            raise HTTPException(404)
        return await self._worked(makers[what], job, design)

    async def marked(self, request: Request) -> Response:
        """The marked copy of a sheet."""
        job = self._job(request)
        sheets = [*job.books]
        number = request.path_params["number"]
        if not 0 <= number < len(sheets):
            raise HTTPException(404)
        data = await self._worked(jobs.marked, job, sheets[number])
        stem = sheets[number].rpartition("/")[2].rpartition(".")[0]
        return _taken(data, f"{stem}-marked.xlsx", WORKBOOK)

    # What goes wrong.

    async def failed(self, request: Request, error: Exception) -> Response:
        status = getattr(error, "status_code", 404)
        words = "There is no such page."
        if status == 405:
            words = "That is not how this page is asked."
        return said(status, words)

    async def refused(self, request: Request, error: Exception) -> Response:
        return said(400, str(error) or "That could not be taken.", self.base)

    async def broken(self, request: Request, error: Exception) -> Response:
        fault = f"{type(error).__name__}: {error}"
        words = f"The program itself failed ({fault[:200]}); it says nothing of what was dropped."
        return said(500, words, self.base)

    async def _worked(self, work: Callable[..., Made], *arguments: Any) -> Made:
        def alone() -> Made:
            with self.jobs.lock:
                return work(*arguments)

        return await run_in_threadpool(alone)

    def _job(self, request: Request) -> Job:
        job = self.jobs.get(request.path_params["job"])
        if job is None:
            raise Refused("What was dropped is no longer at hand. Drop it again.")
        return job

    def _design(self, request: Request) -> tuple[Job, Dropped]:
        job = self._job(request)
        number = request.path_params["number"]
        if not 0 <= number < len(job.designs):
            raise HTTPException(404)
        return job, job.designs[number]


async def _posted(request: Request) -> dict[str, str]:
    """The fields of a form; empty where none were sent."""
    if request.method != "POST":
        return {}
    form = await request.form(max_files=0, max_fields=MOST_RECORDS)
    return {key: text for key, text in form.items() if isinstance(text, str)}


def _taken(data: bytes, name: str, kind: str) -> Response:
    disposition = f"attachment; filename*=UTF-8''{quote(name)}"
    return Response(data, media_type=kind, headers={"content-disposition": disposition})


def _report(job: Job, design: Dropped) -> Response:
    from checker.outcome.runs import Run, Totals
    from checker.reading import beside
    from checker.reports import FormatOptions
    from checker.reports.html import Writer
    from checker.run import batch, rules_in_force

    chosen = FormatOptions("html")
    plan = jobs.judging_plan(formats=(chosen,))
    writer = Writer(chosen)
    totals = Totals()
    with beside.brought(job.files):
        (report,), _ = batch.check([(design.path, design.text)], plan, with_given=True)
    report.content = design.text
    totals.add(report)
    book = rules_in_force.rulebook()
    run = Run(book.edition, book.digest)
    gathered = writer.whole(run, [writer.piece(report)], totals, [])
    return HTMLResponse(b"".join(gathered.parts))


def _site_sheet(job: Job, design: Dropped) -> Response:
    from checker.reports.site_sheet import NO_LOOPS, critical, page, sheet

    (report,), _ = jobs.judged(job, [design], with_given=True)
    if report.loopless:
        return said(409, f"There is no site sheet, because {NO_LOOPS}.")
    (later,), _ = jobs.judged(job, [design], stage="installed", with_given=True)
    reasons = critical(report)
    if reasons:
        found = "; ".join(f"{one.subject}: {one.message}" for one in reasons)
        return said(409, f"A design with a critical finding gets no site sheet. {found}")
    return HTMLResponse(b"".join(page([sheet(report, later)], report.name)))


def _letter(job: Job, design: Dropped) -> Response:
    from checker.reading import beside
    from checker.revisions.letters import letter_html
    from checker.revisions.reviewing import letters
    from checker.revisions.revision import read
    from checker.revisions.senders import projects

    plan = jobs.judging_plan()
    with beside.brought(job.files):
        revisions, _ = read([(design.path, design.text)], plan)
    (letter,) = letters(projects(revisions, "contractor", plan), plan)
    return HTMLResponse(letter_html(letter))


def _text(job: Job, design: Dropped) -> Response:
    ending = ".json" if is_json(design.path) else ".yaml"
    return _taken(design.text, jobs.name_of(design, ending), "text/plain; charset=utf-8")


def _paths(job: Job, design: Dropped) -> list[tuple[str, str]]:
    """Each value of a design: its path, and its present text."""
    from checker.design.tables import Tables
    from checker.reading import beside

    with beside.brought(job.files):
        document = Tables().add(design.path, design.text).document
    found: list[tuple[str, str]] = []

    def take(holder: Any, path: str) -> None:
        if isinstance(holder, dict):
            for key, value in holder.items():
                take(value, f"{path}.{key}" if path else key)
        elif isinstance(holder, list):
            for number, value in enumerate(holder, 1):
                take(value, f"{path}[{number}]")
        elif isinstance(holder, str):
            found.append((path, holder))

    for section in ("plant", "floors", "rooms", "loops", "pipes", "headers"):
        take(document.get(section, {}), section)
    return found
