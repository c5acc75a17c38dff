"""The library: `check` judges designs from Python, by the same engine as `prescreed check`.

from checker import check

checked = check("house.yaml")
checked.verdicts                 {'house.yaml': 'hold'}
checked.results("fail")          records: rule, subject, value, limit, source, message …
checked.results_frame()          the same as a pandas DataFrame
checked.computed_frame()         flow, output, pressure drop … of every loop, header and room
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from checker.outcome.report import DesignReport
from checker.outcome.results import Kind, Measure, Result, Verdict
from checker.reading.mistakes import Unreadable

if TYPE_CHECKING:
    from pandas import DataFrame

SHOWN = 50
"""Findings that a notebook shows; the rest is counted."""


class CannotCheck(ValueError):
    """A design, a rule file or a policy cannot be used; `mistakes` has each with its place."""

    def __init__(self, words: str, mistakes: Sequence[Unreadable] = ()) -> None:
        super().__init__(words)
        self.mistakes = tuple(mistakes)


class Checked:
    """What a check found.

    Attributes:
        designs: a `DesignReport` for each design, in path order: `verdict`, `results`, `computed`,
            `questions` and more.
        mistakes: files that could not be judged, each with path, line, column and message. Empty
            unless `check` was called with `keep_going=True`.
    """

    def __init__(self, designs: Sequence[DesignReport], mistakes: Sequence[Unreadable]) -> None:
        self.designs = tuple(designs)
        self.mistakes = tuple(mistakes)

    def __repr__(self) -> str:
        verdicts = ", ".join(f"{path}: {verdict}" for path, verdict in self.verdicts.items())
        broken = f"; {len(self.mistakes)} mistakes" if self.mistakes else ""
        return f"<Checked {verdicts or 'no design'}{broken}>"

    @property
    def verdicts(self) -> dict[str, Verdict]:
        """`release`, `hold` or `unproven` of each design, by its path."""
        return {design.path: design.verdict for design in self.designs}

    def results(self, *kinds: Kind) -> list[Result]:
        """The results of all designs, in path order, then file order.

        Args:
            *kinds: only these (`fail`, `open`, `review`, `pass`, `notApplicable`); none for all.

        Returns:
            The results as records.
        """
        return [
            result
            for design in self.designs
            for result in (design.results_of(*kinds) if kinds else design.results)
        ]

    def computed(self) -> dict[str, dict[str, dict[str, Measure]]]:
        """The computed values.

        Returns:
            By a design's path, then subject (`loops.L1`), then name (`flow`). A value that cannot
            be worked out is absent.
        """
        return {
            design.path: {
                subject: {
                    name: value for name, value in values.items() if value.magnitude is not None
                }
                for subject, values in design.computed.items()
            }
            for design in self.designs
        }

    def results_frame(self) -> DataFrame:
        """The results as a pandas DataFrame.

        Returns:
            One row a result; columns as in the CSV report.
        """
        from pandas import DataFrame

        from checker.reports import tables

        rows = [
            (*tables.of(design), *tables.cells(result, design))
            for design in self.designs
            for result in design.results
        ]
        return DataFrame(rows, columns=[*tables.OF_ALL, *tables.RESULT])

    def computed_frame(self) -> DataFrame:
        """The computed values as a pandas DataFrame.

        For a column a name, use `frame.pivot(index=["path", "subject"], columns="name",
        values="value")`.

        Returns:
            One row a value; columns path, subject, name, value, unit.
        """
        from pandas import DataFrame

        rows = [
            (path, subject, name, value.magnitude, value.unit)
            for path, subjects in self.computed().items()
            for subject, values in subjects.items()
            for name, value in values.items()
        ]
        return DataFrame(rows, columns=["path", "subject", "name", "value", "unit"])

    def _repr_html_(self) -> str:
        """What a notebook shows: verdicts, then findings, the gravest first, waived ones last."""
        from markupsafe import escape

        from checker.outcome.results import SEVERITIES
        from checker.reports.verdicts import to_look_at

        said = [
            f"<p><strong>{escape(design.name)}</strong>: {escape(design.verdict)}, "
            f"{design.judged.done} of {design.judged.of} rules judged</p>"
            for design in self.designs
        ]
        said += [
            f"<p><strong>Cannot be read</strong>: {escape(one.place)}: {escape(one.message)}</p>"
            for one in self.mistakes
        ]
        found = [*self.results("fail", "open"), *to_look_at(self.results("review"))]
        found.sort(
            key=lambda one: (bool(one.waived), one.kind != "fail", SEVERITIES.index(one.severity))
        )
        if found:
            heads = "".join(f"<th>{head}</th>" for head in ("", "", "subject", "rule", "message"))
            rows = "".join(
                "<tr>"
                + "".join(
                    f"<td>{escape(cell)}</td>"
                    for cell in (
                        "waived" if one.waived else one.kind,
                        one.severity,
                        one.subject,
                        one.rule,
                        one.message,
                    )
                )
                + "</tr>"
                for one in found[:SHOWN]
            )
            said.append(f"<table><tr>{heads}</tr>{rows}</table>")
        if len(found) > SHOWN:
            said.append(f"<p>{len(found) - SHOWN} more</p>")
        return "".join(said)


def check(
    source: str | os.PathLike[str] | Mapping[str, Any] | Iterable[str | os.PathLike[str]],
    *,
    codes: Sequence[str] = (),
    as_of: date | None = None,
    today: date | None = None,
    rules: Sequence[str | os.PathLike[str]] = (),
    keep_going: bool = False,
) -> Checked:
    """Judge one design or many.

    Args:
        source: a path of a design, a sheet or a folder, or several paths: judged as `prescreed
            check` judges them here, by the same policy, waivers and known findings. Or the text of
            a design (a string of more than one line), or a mapping in the shape of the design
            format: judged by the program's rules and the arguments below alone.
        codes: judge by these codes (`EN-1264`, `DE`, …), whatever the designs say.
        as_of: judge by the editions of this day.
        today: the day of the check, after which nothing has happened yet; else that of the
            computer.
        rules: folders or files of your own rules, in addition.
        keep_going: put what cannot be read into `mistakes` and judge the rest, instead of raising.

    Returns:
        The designs with their results and computed values.

    Raises:
        CannotCheck: a design has a mistake (unless `keep_going`), there is no such file, a code
            is not known, or a policy or rule file cannot be used.

    Example:
        >>> check("design: 1\\nproject: {name: House}\\n").verdicts
        {'design.yaml': 'unproven'}
    """
    from checker.run.policy_sources import BadPolicy
    from checker.run.settings_files import BadSettings
    from checker.run.writer import Unwritable

    packs = [os.fspath(path) for path in rules]
    if isinstance(source, Mapping):
        text = json.dumps(source, default=str, ensure_ascii=False, indent=1)
        content = ("design.json", text.encode())
    elif isinstance(source, str) and "\n" in source:
        content = ("design.yaml", source.encode())
    else:
        paths = [source] if isinstance(source, str | os.PathLike) else [*source]
        try:
            designs, mistakes = _of_paths(
                [os.fspath(path) for path in paths], codes, as_of, today, packs
            )
        except BadSettings as bad:
            raise CannotCheck(f"{bad.problem.place}: {bad}", [bad.problem]) from None
        except (BadPolicy, Unwritable) as error:
            raise CannotCheck(str(error)) from None
        return _checked(designs, mistakes, keep_going=keep_going)
    designs, mistakes = _of_content(content, codes, as_of, today, packs)
    return _checked(designs, mistakes, keep_going=keep_going)


def _checked(
    designs: list[DesignReport], mistakes: list[Unreadable], *, keep_going: bool
) -> Checked:
    if mistakes and not keep_going:
        lines = [f"{one.place}: {one.message}" for one in mistakes]
        raise CannotCheck("\n".join(lines), mistakes)
    return Checked(designs, mistakes)


def _of_content(
    content: tuple[str, bytes],
    codes: Sequence[str],
    as_of: date | None,
    today: date | None,
    packs: list[str],
) -> tuple[list[DesignReport], list[Unreadable]]:
    from checker.rulebook.loading import BadRules
    from checker.run import batch
    from checker.run.rules_in_force import rulebook
    from checker.words import choices

    try:
        known = rulebook(tuple(packs)).codes
        for code in codes:
            if code not in known:
                raise CannotCheck(f"there is no code '{code}'; {choices(code, known)}")
        plan = batch.Plan(
            codes=tuple(codes) or None,
            on=as_of,
            rules=tuple(packs),
            today=today or date.today(),
            newest_day=batch.newest_day(today),
        )
        return batch.check([content], plan, with_given=True)
    except BadRules as bad:
        raise CannotCheck(str(bad)) from None


def _of_paths(
    paths: list[str],
    codes: Sequence[str],
    as_of: date | None,
    today: date | None,
    packs: list[str],
) -> tuple[list[DesignReport], list[Unreadable]]:
    from checker.rulebook.loading import BadRules
    from checker.run import batch, session
    from checker.run.options import judging_options
    from checker.run.telling import Parser

    made = Parser(prog="check")
    judging_options(made)
    words = [f"--codes={','.join(codes)}"] if codes else []
    words += [f"--as-of={as_of.isoformat()}"] if as_of else []
    words += [f"--today={today.isoformat()}"] if today else []
    words += [f"--rules={pack}" for pack in packs]
    found: list[DesignReport] = []
    try:
        opened = session.open_run(made, [*words, "--", *paths])
        mistakes = [*opened.problems]
        for group in opened.groups:
            some, bad = opened.judged(
                group, lambda contents, plan: batch.check(contents, plan, with_given=True)
            )
            found += some
            mistakes += bad
    except BadRules as bad_rules:
        raise CannotCheck(str(bad_rules)) from None
    if not found and not mistakes:
        raise CannotCheck(opened.idle or f"there is no design in {', '.join(paths)}")
    return found, mistakes
