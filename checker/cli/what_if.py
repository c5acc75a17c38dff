"""The ranges of `prescreed check --with`: each design judged at steps of them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from checker.reading.mistakes import Unreadable
from checker.run import session
from checker.run.telling import tell
from checker.run.writer import Unwritable, put, refuse_overwriting

if TYPE_CHECKING:
    from checker.remedies.ranging import Ranged, WhatIf

FORMATS = ("text", "json", "html")


def has_range(changes: list[str]) -> bool:
    """Whether one of the changes is a range."""
    if not any(".." in one for one in changes):
        return False
    from checker.remedies.ranging import is_range

    return any(map(is_range, changes))


def ranged(opened: session.Session) -> int:
    """Judge over the ranges and write the results; returns the exit status."""
    from checker.remedies.ranging import BadRange, is_range, read_range
    from checker.run.outputs import pair_up

    changes = opened.options.get("with")
    try:
        ranges = [read_range(one) for one in changes if is_range(one)]
    except BadRange as bad:
        raise Unwritable(f"--with {bad}") from None
    fixed = tuple(one for one in changes if not is_range(one))
    pairs = pair_up(opened.options.values.pairs or [])
    for name, output in pairs:
        if name not in FORMATS:
            raise Unwritable(f"--format {name}: over a range, write {', '.join(FORMATS)}")
        refuse_overwriting(output, opened.inputs)
    found, problems = _judged(opened, fixed, ranges)
    for problem in problems:
        tell(session.problem_line(problem))
    if opened.judged_none(found, problems):
        return 0
    for name, output in pairs:
        put(_written(name, output, found), output)
    return session.status(problems)


def _judged(
    opened: session.Session, fixed: tuple[str, ...], ranges: list[Ranged]
) -> tuple[list[WhatIf], list[Unreadable]]:
    from msgspec.structs import replace

    from checker.design.changes import BadChange
    from checker.reading.documents import Problem
    from checker.remedies.ranging import BadRange
    from checker.remedies.ranging import ranged as over
    from checker.run import batch

    found: list[WhatIf] = []
    problems: list[Unreadable] = [*opened.problems]
    for group in opened.groups:

        def judge(files: Any, plan: batch.Plan) -> tuple[list[Any], list[Unreadable]]:
            taken: list[WhatIf] = []
            bad: list[Unreadable] = []
            plain = batch.read([], replace(plan, changes=()))
            for path, data in files:
                try:
                    taken.append(over(path, data, fixed, ranges, plain.book, plain.judging))
                except Problem as problem:
                    bad.append(Unreadable(path, problem.line, problem.column, problem.message))
                except (BadChange, BadRange) as error:
                    bad.append(Unreadable(path, 1, 1, f"--with: {error}"))
            return taken, bad

        some, bad = opened.judged(group, judge)
        found += some
        problems += bad
    return found, problems


def _written(name: str, output: str, found: list[WhatIf]) -> bytes:
    from checker.reports import what_if

    if name == "html":
        return what_if.html(found)
    if name == "json":
        from msgspec.json import encode
        from msgspec.json import format as indented

        designs = [what_if.plain(one) for one in found]
        return indented(encode({"what_if": 1, "designs": designs}), indent=1) + b"\n"
    from checker.reports.terminal import WIDEST
    from checker.run.outputs import width_and_colour

    width, colour = width_and_colour(output)
    return what_if.text(found, max(40, min(width, WIDEST)), colour)
