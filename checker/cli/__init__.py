"""The command `prescreed`. Each sub-command is a module, imported when it is called."""

from __future__ import annotations

import os
import sys
from contextlib import suppress
from importlib import import_module

from checker.run.standard_streams import Lost, install

USES = {
    "Check before the site": {
        "new": "make a form to fill in: a workbook, or a design file",
        "check": "check designs and report what breaks a limit (start here)",
        "open": "open the page on this computer: drop a sheet, see the report",
        "explain": "show the worked calculation behind a result",
        "remedy": "work out what would clear each critical and major finding",
        "tolerance": "work out the chance that each limit holds despite site tolerances",
    },
    "Review designs that others send": {
        "intake": "turn sheets and drawings into design files",
        "schedule": "write a design as a workbook",
        "compare": "show what changed between two revisions and in their findings",
        "review": "write letters to subcontractors about their designs",
    },
    "Gate designs in CI": {
        "freeze": "record today's findings, so that later runs fail on new ones",
        "settings": "show the policy in use, and where each setting comes from",
        "pack-check": "check a pack of your own rules and run its examples",
    },
    "Papers for the site": {
        "quantities": "count what a job needs, and plan the cuts of its coils",
        "site-sheet": "print what the crew sets, fills in and ticks off on site",
        "record": "write what was recorded on site into the design, and judge it",
        "hand-over": "make the papers that stay with the house",
    },
    "Past jobs": {
        "audit": "find the causes of a complaint, and other jobs that share them",
        "archive": "write all jobs as one Parquet table",
    },
    "Look things up": {
        "rules": "list or search the rules, or show one with limits and sources",
        "manual": "write the manual as a site of files that can be searched",
        "schema": "print the JSON Schema of a file format, for an editor",
        "completion": "print the script that lets a shell complete this command",
    },
}
"""The commands by purpose; a command's name is also that of its module."""

COMMANDS = {name: what for group in USES.values() for name, what in group.items()}
"""The purpose of each command, by its name."""

PRINTING = ("explain", "rules", "schema", "completion")
"""Commands that print their result, and so have --output."""
USAGE_STATUS, FAILED_STATUS = 2, 3


def main(arguments: list[str] | None = None) -> int:
    """Run the command with these arguments, else with those of the process; returns its exit
    status.
    """
    if arguments is None:
        _one_thread()
        _collect_seldom()
        _without_docstrings()
        install()
        _end_like_an_interrupt()
    words = sys.argv[1:] if arguments is None else arguments
    try:
        try:
            return _run(words)
        finally:
            sys.stdout.flush()
    except Lost as lost:
        _tell(f"prescreed: {lost}")
        return USAGE_STATUS
    except KeyboardInterrupt:
        _tell("prescreed: stopped.")
        return 130
    except Exception as error:
        from checker.run.writer import Unwritable  # costs start-up, so only where it is needed

        if isinstance(error, Unwritable):
            from checker.run.telling import refuse

            refuse(str(error))
            return USAGE_STATUS
        _tell(*_failure(error, words))
        return FAILED_STATUS


def _tell(*lines: str) -> None:
    from checker.run.telling import tell

    tell(*lines)


def _failure(error: Exception, words: list[str]) -> list[str]:
    """The message where the program itself fails."""
    import traceback

    from checker import __version__

    said = "".join(traceback.format_exception_only(error)).strip().splitlines()[-1]
    advice = (
        f"prescreed {__version__} itself failed ({said}). Please report it to those who maintain "
        "the program, with the call and what --verbose says after it."
    )
    wants_all = "--verbose" in words or os.environ.get("PRESCREED_TRACE")
    trace = "".join(traceback.format_exception(error)).splitlines() if wants_all else []
    return [*trace, advice]


def _import_lightly() -> None:
    """Import msgspec without `typing_extensions`, and so without `inspect`.

    msgspec imports them where they are installed, though only older Pythons need them, and they are
    half of its import time. Later imports of them work as usual.
    """
    if "msgspec" in sys.modules or _EXTENSIONS in sys.modules:
        return
    sys.modules[_EXTENSIONS] = None  # type: ignore[assignment]  # no module is found there
    try:
        with suppress(ImportError):  # one that cannot do without is imported as it wants
            import msgspec  # noqa: F401
    finally:
        del sys.modules[_EXTENSIONS]


_EXTENSIONS = "typing_extensions"


def _one_thread() -> None:
    """Keep NumPy's linear algebra from starting threads; no array here is large enough to need
    them.
    """
    import os

    for library in ("OPENBLAS", "OMP", "MKL"):
        os.environ.setdefault(f"{library}_NUM_THREADS", "1")


def _collect_seldom() -> None:
    """Collect garbage after every so many new objects instead of every few hundred, and not once
    more at the end, when Python would go through everything that was ever imported.
    """
    import atexit
    import gc

    gc.set_threshold(OBJECTS, 10, 10)
    atexit.register(gc.freeze)


OBJECTS = 100_000
"""New objects after which garbage is collected: some megabytes."""


def _without_docstrings() -> None:
    """Import NumPy without adding docstrings to its compiled functions.

    They are a ninth of its import time, and are in modules that hold nothing else.
    """
    for name in ("_core._add_newdocs", "_core._add_newdocs_scalars", "_typing._add_docstring"):
        module = sys.modules.setdefault(f"numpy.{name}", type(sys)(name))
        module.__dict__.setdefault("_docstrings", "")


def _end_like_an_interrupt() -> None:
    """Let the signal with which a CI host ends a run clean up as Ctrl-C does."""
    import signal

    signal.signal(signal.SIGTERM, signal.default_int_handler)


def _run(words: list[str]) -> int:
    if words and words[0] in COMMANDS:
        _import_lightly()
        module = import_module(f"checker.cli.{words[0].replace('-', '_')}")
        if words[0] in PRINTING:
            from checker.run.printing import printed

            return printed(module.run, words[1:])
        status: int = module.run(words[1:])
        return status
    return _top(words)


def _top(words: list[str]) -> int:
    """Help, version, and the message for a command that does not exist."""
    from checker import __version__

    if words and words[0] in ("--version", "-V"):
        print(f"prescreed {__version__} (rules {_edition()})")
        return 0
    if words[:1] == ["help"] and words[1:] and words[1] in COMMANDS:
        return main([words[1], "--help"])
    if not words or words[0] in ("--help", "-h", "help"):
        print(_help())
        return 0 if words else USAGE_STATUS
    from checker.words import choices

    near = choices(words[0], COMMANDS)
    _tell(f"prescreed: there is no command '{words[0]}'; {near}")
    return USAGE_STATUS


def _edition() -> str:
    """The edition of the program's rules, without reading them all."""
    from checker.reading.package_data import data_folder

    # Not the builtin of that name: once the command is loaded, this package has its module there.
    with (data_folder("rules") / "sources.yaml").open(encoding="utf-8") as file:
        for line in file:
            if line.startswith("edition:"):
                return line.partition(":")[2].strip().strip("\"'")
    return "unknown"


def _help() -> str:
    lines = [
        "usage: prescreed COMMAND [OPTIONS] …",
        "",
        "Checks designs of wet underfloor heating before the screed buries them.",
        "",
        "Start with one of these:",
        "  prescreed check house.yaml      check a design, a workbook or a folder",
        "  prescreed new                   make a workbook to fill in, with no design yet",
        "",
        "Words of the trade: a header is a manifold, a loop a circuit, the supply the",
        "flow temperature, a feed a tail, and a covering a floor finish.",
    ]
    for use, commands in USES.items():
        lines += ["", f"{use}:", *(f"  {name:<12} {what}" for name, what in commands.items())]
    lines += ["", "'prescreed COMMAND --help' explains a command; '--version' shows the version."]
    return "\n".join(lines)
