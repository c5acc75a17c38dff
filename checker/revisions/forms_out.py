"""The forms for missing data that go out with letters, and those that came back."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable, Iterator
from hashlib import sha256

from checker.forms.writing import workbook
from checker.intake.reading import opened
from checker.intake.sheets import BadSheet
from checker.reading import bounded
from checker.reading.mistakes import OfTheFile, Unreadable
from checker.revisions.filled_in import Returned, returned
from checker.revisions.letters.wording import Words
from checker.revisions.missing import PLAIN, Asking, Style, form_for
from checker.revisions.register import Form, Register
from checker.revisions.reviewing import Letter, by_sender
from checker.revisions.senders import Project


def came_back(files: Iterable[str]) -> tuple[list[Returned], list[Unreadable]]:
    """Read the forms for missing data that came back.

    Args:
        files: the paths of their workbooks.

    Returns:
        The forms in the order of the files, and the files that cannot be read, with why.
    """
    found: list[Returned] = []
    problems: list[Unreadable] = []
    for file in files:
        try:
            digest = "sha256:" + sha256(bounded.content(file)).hexdigest()
            one = returned(opened(file), digest)
        except (OSError, BadSheet) as error:
            why = bounded.why(error) if isinstance(error, OSError) else str(error)
            problems.append(OfTheFile(file, 1, 1, f"The form cannot be read: {why}."))
            continue
        if one is None:
            problems.append(
                OfTheFile(file, 1, 1, "The form is damaged: its hidden sheet is not as it went "
                          "out. Copy the answers into the form of the newest letter.")
            )  # fmt: skip
        else:
            found.append(one)
    return found, problems


def forms_out(
    register: Register,
    letters: Iterable[tuple[Letter, str]],
    found: Iterable[Project],
    day: str,
    said: Words,
    style: Callable[[Project], Style],
) -> Iterator[tuple[Letter, dict[str, bytes]]]:
    """Make the forms for a round of letters, and enter them into the register.

    Args:
        register: the register of the job.
        letters: each letter with the name of its file.
        found: the designs of the round.
        day: the day of the round, ISO 8601.
        said: the words of letters.
        style: how the sender of a design writes.

    Yields:
        Each letter with the names of its forms, and the files of these by name.
    """
    projects = by_sender(found)
    known = {(one.contractor, one.design, one.content): one for one in register.forms}
    for letter, name in letters:
        files: dict[str, bytes] = {}
        sections = []
        own = zip(letter.sections, projects[letter.to], strict=True)
        for number, (section, project) in enumerate(own, 1):
            several = f"-{number}" if len(letter.sections) > 1 else ""
            file = f"{name}{several}-missing.xlsx"
            content, left = _form(register, known, project, day, said, style)
            if content:
                files[file] = content
                section = section._replace(form=file, left=left)
            sections.append(section)
        yield letter._replace(sections=tuple(sections)), files


def _form(
    register: Register,
    forms: dict[tuple[str, str, str], Form],
    project: Project,
    day: str,
    said: Words,
    style: Callable[[Project], Style],
) -> tuple[bytes, tuple[str, ...]]:
    """The form of a project, entered into the register.

    Args:
        register: the register of the job.
        forms: those that went out before, by contractor, design and content; a new one is added.
        project: the design.
        day: the day of the round, ISO 8601.
        said: the words of letters.
        style: how the sender writes.

    Returns:
        The workbook, and what it cannot ask; empty where nothing is missing.
    """
    newest = project.newest
    digest = "sha256:" + sha256(newest.data).hexdigest()
    own = (project.by, project.name, digest)
    known = forms.get(own)
    number = known.number if known else len(register.forms) + 1
    asked = form_for(newest, Asking(number, project.by, project.name, digest), style(project), said)
    if asked is None:
        return b"", ()
    if known is None:
        forms[own] = Form(number, *own[:2], newest.revision, digest, day)
        register.forms.append(forms[own])
    written = io.BytesIO()
    form, records, left = asked
    workbook(written, form, records)
    return written.getvalue(), left


def latest_style(back: Iterable[Returned], project: Project) -> Style:
    """How a sender's last form was written, where the map of their sheet is not available.

    Args:
        back: the forms that came back.
        project: a design of the sender.

    Returns:
        The style of the newest form for that design; the format's own words where none came back.
    """
    own = [one for one in back if (one.contractor, one.design) == (project.by, project.name)]
    return max(own, key=lambda one: one.number).style if own else PLAIN
