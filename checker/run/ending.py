"""How a command ends: its exit status, and in words what it could not do."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from checker.outcome.status import FAILED, UNUSABLE
from checker.reading.mistakes import Crashed, Unreadable
from checker.run.policy_sources import BadPolicy
from checker.run.settings_files import BadSettings
from checker.run.telling import refuse, tell
from checker.run.writer import Unwritable


def answered(command: Callable[[], int]) -> int:
    """Run a command; where a call cannot be carried out, write why to standard error.

    Args:
        command: returns the exit status; may raise what `open_run` raises.

    Returns:
        Its exit status, or UNUSABLE where it raised that.
    """
    try:
        return command()
    except BadSettings as bad_settings:
        tell(problem_line(bad_settings.problem))
    except (Unwritable, BadPolicy) as error:
        refuse(str(error))
    except Exception as error:
        # Imported only here, for reading rules takes packages that a warm start does without.
        from checker.rulebook.loading import BadRules

        if not isinstance(error, BadRules):
            raise
        for path, problem in error.problems:
            place = Unreadable(path, problem.line, problem.column, problem.message)
            tell(problem_line(place))
    return UNUSABLE


def status(problems: Iterable[Unreadable]) -> int:
    """The exit status of a command that does not judge what it found.

    Args:
        problems: everything that could not be read or judged.

    Returns:
        3 where the program failed on a design, else 2 where there is any problem, else 0.
    """
    found = list(problems)
    if any(isinstance(one, Crashed) for one in found):
        return FAILED
    return UNUSABLE if found else 0


def problem_line(mistake: Unreadable) -> str:
    """A mistake with its place, for standard error.

    Args:
        mistake: in a file or a design.

    Returns:
        A line, such as `house.yaml:3:5: …`.
    """
    return f"{mistake.place}: {mistake.message}"
