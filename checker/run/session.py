"""What a call means: its options with the settings behind them, its files, its rules."""

from __future__ import annotations

import argparse
import hashlib
import os
import sys
from collections.abc import Callable, Iterable, Iterator
from datetime import date
from itertools import groupby
from typing import TYPE_CHECKING, Any

from msgspec import Struct
from msgspec.json import encode

from checker.reading.design_files import (
    ENDINGS,
    SETTINGS,
    STANDARD_INPUT,
    Named,
    designs,
    is_remote,
    once,
)
from checker.reading.mistakes import Unreadable
from checker.run.outputs import Unwritable
from checker.run.settings import NONE, BadSettings, Setting, Settings, nearest
from checker.words import calendar_day, choices

if TYPE_CHECKING:
    from checker.notes.baseline import Baseline
    from checker.notes.waivers import WaiverFile
    from checker.rulebook.model import Rulebook

UNUSABLE = 2
"""The exit status of a call that could not be carried out, or not on every design."""
SHOWN = ("codes", "as_of", "rules", "known", "fail_on", "fail_on_open")
"""Options that decide what a run finds, as its report names them; the others change no result."""
PATHS = ("rules", "known", "output", "files_from", "stdin_path", "exclude")
"""Options that name files; in settings they start from the settings' folder."""
UNPLACED = ("command line", "default")
"""Origins of an option that are no place in a file."""
NOT_SETTINGS = ("paths", "help", "pairs")


def rules_option(made: argparse.ArgumentParser) -> None:
    """Add what names a firm's own rules."""
    made.add_argument(
        "--rules",
        action="append",
        default=[],
        metavar="PATH",
        help="a folder or file of your own rules, over the program's",
    )


def basis_options(made: argparse.ArgumentParser) -> None:
    """Add what says by which codes, day and rules to judge."""
    made.add_argument(
        "--codes",
        type=codes,
        metavar="CODE[,CODE…]",
        help="judge by these codes, whatever the design or its region says",
    )
    made.add_argument(
        "--as-of",
        type=day,
        metavar="DATE",
        help="judge by the editions in force on this day (default: the design's own day)",
    )
    rules_option(made)


def judging_options(made: argparse.ArgumentParser) -> None:
    """Add what says which designs are judged, and by what."""
    made.add_argument(
        "paths",
        nargs="*",
        metavar="PATH",
        help="a design, a folder of designs, or - for standard input",
    )
    basis_options(made)
    made.add_argument(
        "--jobs", type=_jobs, metavar="N", help="worker processes (default: as many as cores)"
    )
    made.add_argument(
        "--files-from",
        metavar="FILE",
        help="check the designs that FILE names too, one a line or with NUL between; - for "
        "standard input; other files in the list are passed over",
    )
    made.add_argument(
        "--exclude",
        action="append",
        default=[],
        metavar="GLOB",
        help="pass over designs whose path is like this, or that lie in such a folder; * stands "
        "for any signs, / too",
    )
    made.add_argument(
        "--changed",
        metavar="REF",
        help="of the designs named, check those that differ from this commit, or are new",
    )
    made.add_argument(
        "--stdin-path",
        metavar="PATH",
        help="the design on standard input is the one of this path, say as an editor has it",
    )
    made.add_argument("--today", type=day, metavar="DATE", help=argparse.SUPPRESS)


def codes(text: str) -> tuple[str, ...]:
    """Codes with commas between; an empty list would judge by none, and let everything pass."""
    found = tuple(code.strip() for code in text.split(",") if code.strip())
    if not found:
        raise argparse.ArgumentTypeError(
            "no code is named; write one or several, such as 'EN-1264,DE', or leave it out to "
            "judge by the codes of the design or its region"
        )
    return found


def day(text: str) -> date:
    try:
        return calendar_day(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error)) from None


def _jobs(text: str) -> int:
    if not text.isdigit() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"'{text}' is not a number of workers, 1 or more")
    return int(text)


class Options(Struct, frozen=True):
    """The options of a call, and for each where it comes from."""

    values: argparse.Namespace
    origins: dict[str, str]

    def where(self, name: str) -> str:
        """What to look at where an option is wrong: itself, or its place in the settings."""
        written = name.replace("_", "-")
        origin = self.origins[name]
        return f"--{written}" if origin in UNPLACED else f"{origin}: {written}"

    def shown(self) -> dict[str, Any]:
        """Those that decide what a run finds, as its report names them."""
        return {
            name.replace("_", "-"): getattr(self.values, name)
            for name in SHOWN
            if hasattr(self.values, name)
        }


def options(made: argparse.ArgumentParser, words: list[str], settings: Settings) -> Options:
    """The options: those of the call before those of the settings before the defaults.

    Raises BadSettings for a setting that is no option, or has a value that none takes.
    """
    actions = {
        action.dest: action
        for action in made._actions
        if action.dest != "help" and action.default != argparse.SUPPRESS
    }
    defaults = {name: action.default for name, action in actions.items()}
    for action in actions.values():
        action.default = argparse.SUPPRESS
    given = vars(made.parse_args(words))
    for name, action in actions.items():
        action.default = defaults[name]
    values: dict[str, Any] = {**defaults, "paths": [], "pairs": None}
    origins = dict.fromkeys(defaults, UNPLACED[1])
    pairs: list[tuple[str, str]] = []
    for name, setting in settings.values.items():
        known = actions.get(name)
        if known is None or name in NOT_SETTINGS:
            # One command's options may stand there for another's sake.
            if name in NOT_SETTINGS or name not in _every_option():
                written = name.replace("_", "-")
                known_names = [one.replace("_", "-") for one in actions if one not in NOT_SETTINGS]
                near = choices(written, known_names)
                raise settings.refuse(setting, f"'{written}' is no setting; {near}")
            continue
        value = _converted(known, setting, settings)
        origins[name] = f"{settings.path}:{setting.line}"
        if name in ("format", "output"):
            pairs += [(name, one) for one in (value if isinstance(value, tuple) else (value,))]
        else:
            values[name] = value
    if pairs:
        values["pairs"] = _interleaved(pairs)
    for name, value in given.items():
        values[name] = value
        for one in {pair[0] for pair in value} if name == "pairs" else (name,):
            origins[one] = UNPLACED[0]
    if "pairs" in given:
        for name in ("format", "output"):
            if name in origins and not any(pair[0] == name for pair in given["pairs"]):
                origins[name] = UNPLACED[1]
    return Options(argparse.Namespace(**values), origins)


def _every_option() -> frozenset[str]:
    from checker.cli import check

    return frozenset(a.dest for a in check.parser()._actions if a.option_strings)


def _interleaved(pairs: list[tuple[str, str]]) -> list[tuple[str, str]]:
    """Formats and outputs as a call has them: each output after its format."""
    formats = [value for name, value in pairs if name == "format"] or ["text"]
    outputs = [value for name, value in pairs if name == "output"]
    ordered = []
    for number, name in enumerate(formats):
        ordered.append(("format", name))
        if number < len(outputs):
            ordered.append(("output", outputs[number]))
    return ordered + [("output", value) for value in outputs[len(formats) :]]


def _converted(action: argparse.Action, setting: Setting, settings: Settings) -> Any:
    """A setting's value as the option takes it."""
    written = action.dest.replace("_", "-")
    several = isinstance(setting.value, tuple)
    texts = setting.value if isinstance(setting.value, tuple) else (setting.value,)
    if action.nargs == 0:
        if several or texts[0] not in ("true", "yes", "false", "no"):
            raise settings.refuse(setting, f"{written}: write true or false.")
        return texts[0] in ("true", "yes")
    if action.dest in PATHS:
        texts = tuple(_from_folder(text, settings.folder) for text in texts)
    if action.type is not None and several and action.type is codes:
        texts = (",".join(texts),)
    made: list[Any] = []
    for text in texts:
        if action.choices is not None and text not in action.choices:
            near = choices(text, action.choices)
            raise settings.refuse(setting, f"{written}: '{text}' is not known; {near}")
        try:
            made.append(action.type(text) if callable(action.type) else text)
        except (argparse.ArgumentTypeError, ValueError) as error:
            raise settings.refuse(setting, f"{written}: {error}.") from None
    if isinstance(action, argparse._AppendAction):
        return made
    if several and action.dest in ("format", "output"):
        return tuple(made)
    if len(made) != 1:
        raise settings.refuse(setting, f"{written}: write one value.")
    return made[0]


def _from_folder(path: str, folder: str) -> str:
    return path if path == "-" else os.path.relpath(os.path.join(folder, path))


class Group(Struct, frozen=True):
    """Designs that follow one another and are under the same settings."""

    files: list[str]
    options: Options
    settings: Settings
    known: Any = None


class Call(Struct, frozen=True):
    """A whole call: its options, its designs in groups, the paths that lead to none, its rules.

    excluded: how many designs are passed over; compiled: the rules as they are kept, where they
    are (`batch.Plan`).
    """

    options: Options
    settings: Settings
    groups: list[Group]
    problems: list[Unreadable]
    book: Any
    excluded: int
    compiled: bytes = b""

    @property
    def files(self) -> list[str]:
        """All designs, in path order."""
        return [path for group in self.groups for path in group.files]

    @property
    def passed_over(self) -> list[str]:
        """For each settings file that a nearer one stands in for, a line that says so."""
        nearer = {g.settings.path: g.settings for g in self.groups} or {"": self.settings}
        return [
            f"settings {above.path} not read but for a pin of the rules: {own.path} is nearer"
            for own in nearer.values()
            for above in own.above
        ]


def call(made: argparse.ArgumentParser, words: list[str]) -> Call:
    """What the words mean; raises Unwritable, BadSettings or BadRules."""
    from checker.run import batch

    own = nearest(_common_folder(options(made, words, NONE).values))
    whole = options(made, words, own)
    named = _named(made, whole.values)
    path_of = {path: path for path in named.files}
    if whole.values.stdin_path:
        path_of[STANDARD_INPUT] = whole.values.stdin_path
    if STANDARD_INPUT in path_of:  # what it brings stands in for the file of that path
        there = os.path.abspath(path_of[STANDARD_INPUT])
        path_of = {
            path: own
            for path, own in path_of.items()
            if path == STANDARD_INPUT or os.path.abspath(path) != there
        }
    files = sorted(path_of, key=lambda path: path_of[path])
    rules = tuple(whole.values.rules)
    kept = not getattr(whole.values, "no_cache", False)
    compiled = batch.kept_rules(rules) if kept else b""
    book = batch.rulebook(() if kept else rules, compiled)
    groups = []
    for settings, paths in groupby(files, lambda path: nearest(_folder(path_of[path]))):
        chosen = whole if settings == own else options(made, words, settings)
        _pinned(settings, book)
        if settings != own and chosen.values.rules != whole.values.rules:
            raise Unwritable(
                f"{settings.path} names other rules than {own.path or 'the call'}; "
                "check its designs in a call of their own"
            )
        unlike = _unlike(chosen.values.exclude)
        kept_paths = [path for path in paths if unlike(path_of[path])]
        if kept_paths:
            groups.append(Group(kept_paths, chosen, settings, baseline(chosen)))
        _known_words(chosen.where("codes"), "code", chosen.values.codes or (), book.codes)
    if not groups:
        _pinned(own, book)
        _known_words(whole.where("codes"), "code", whole.values.codes or (), book.codes)
    excluded = len(files) - sum(len(group.files) for group in groups)
    return Call(whole, own, groups, named.problems, book, excluded, compiled)


def answered(command: Callable[[], int]) -> int:
    """The exit status of a command; what keeps a call from being carried out is told."""
    try:
        return command()
    except BadSettings as bad_settings:
        print(told(bad_settings.problem), file=sys.stderr)
    except Unwritable as error:
        print(str(error), file=sys.stderr)
    except Exception as error:
        # Imported only here, for reading rules takes packages that a warm start does without.
        from checker.rulebook.loading import BadRules

        if not isinstance(error, BadRules):
            raise
        for path, problem in error.problems:
            place = Unreadable(path, problem.line, problem.column, problem.message)
            print(told(place), file=sys.stderr)
    return UNUSABLE


def told(mistake: Unreadable) -> str:
    """A mistake with its place, in a line."""
    return f"{mistake.path}:{mistake.line}:{mistake.column}: {mistake.message}"


def baseline(options: Options) -> Baseline | None:
    """The known findings that the options name; raises Unwritable."""
    path = getattr(options.values, "known", None)
    if not path:
        return None
    from checker.notes.baseline import BadKnown, Baseline, read

    try:
        with open(path, "rb") as file:
            data = file.read()
        read(data)
    except OSError as error:
        raise Unwritable(
            f"{options.where('known')}: '{path}' cannot be read: {error.strerror}"
        ) from None
    except BadKnown as error:
        raise Unwritable(f"{options.where('known')}: '{path}': {error}") from None
    return Baseline(os.path.dirname(os.path.abspath(path)), data)


def waiver_files(call: Call) -> tuple[list[WaiverFile], list[Unreadable]]:
    """The waivers that may count, and what is wrong with their files."""
    from checker.reading.design_files import WAIVERS, upward

    places = {_folder(p if p != STANDARD_INPUT else _stdin(call)) for p in call.files}
    above = {one for folder in places for one in upward(folder)}
    paths = sorted(os.path.join(folder, WAIVERS) for folder in above)
    files, problems = [], []
    for path in paths:
        if not os.path.isfile(path):
            continue
        from checker.notes.waivers import BadWaivers, load

        try:
            files.append(load(path))
        except BadWaivers as bad:
            problems += bad.problems
    return files, problems


def _stdin(call: Call) -> str:
    return str(call.options.values.stdin_path or os.path.join(os.getcwd(), "standard input"))


def digest(settings: dict[str, Any], *contents: bytes) -> str:
    """A digest of settings, and of the files that they name."""
    made = hashlib.sha256(encode(settings))
    for content in contents:
        made.update(b"\0" + content)
    return f"sha256:{made.hexdigest()}"


def known_rules(option: str, names: Iterable[str], book: Rulebook) -> None:
    """Raises Unwritable for a rule that there is not."""
    _known_words(option, "rule", names, [rule.id for rule in book.rules])


def _known_words(option: str, what: str, names: Iterable[str], known: Iterable[str]) -> None:
    for name in names:
        if name not in known:
            raise Unwritable(f"{option}: there is no {what} '{name}'; {choices(name, known)}")


def _pinned(settings: Settings, book: Rulebook) -> None:
    """Raises BadSettings where the rules are not those that the settings name, or any above."""
    held = {"edition": book.edition, "digest": book.digest}
    pins = [(one, *pin) for one in (settings, *settings.above) for pin in one.pin.items()]
    for file, name, setting in pins:
        if setting.value != held[name]:
            raise file.refuse(
                setting,
                f"The rules' {name} is pinned to '{setting.value}', and the rules here have "
                f"'{held[name]}'. Install the program with the pinned rules, or see what the "
                "others find and then change the pin.",
            )


def _folder(path: str) -> str:
    """The folder that a design lies in; one at an address goes by the call's."""
    if is_remote(path) or path == STANDARD_INPUT:
        return os.getcwd()
    return os.path.dirname(os.path.abspath(path))


def _common_folder(given: argparse.Namespace) -> str:
    """The folder whose settings are the whole call's: the one that holds every PATH."""
    paths = [*given.paths, *filter(None, [given.stdin_path])]
    folders = [
        os.path.abspath(path) if os.path.isdir(path) else _folder(path)
        for path in paths
        if path != STANDARD_INPUT and not is_remote(path)
    ]
    return os.path.commonpath(folders) if folders else os.getcwd()


def _named(made: argparse.ArgumentParser, given: argparse.Namespace) -> Named:
    paths = list(given.paths)
    if given.files_from == STANDARD_INPUT and (STANDARD_INPUT in paths or given.stdin_path):
        made.error("standard input holds either a design or the list of --files-from, not both")
    if given.stdin_path and STANDARD_INPUT not in paths:
        paths.append(STANDARD_INPUT)
    if given.changed and not paths and not given.files_from:
        paths.append(".")
    if not paths and not given.files_from:
        made.error("name a PATH: a design, a folder of designs, or - for standard input")
    named = designs(paths)
    files, problems = set(named.files), list(named.problems)
    if given.files_from:
        listed = designs(_listed(given.files_from))
        files = set(once(sorted(files.union(listed.files))))
        problems += listed.problems
    for own in (getattr(given, "known", None), getattr(given, "output", None)):
        if own and os.path.exists(own):
            # It ends like a design, and may stand among them.
            files = {path for path in files if not _same(path, own)}
    if given.changed:
        changed = set(_changed(given.changed))
        files = {path for path in files if os.path.realpath(path) in changed}
    return Named(sorted(files), problems)


def _unlike(globs: list[str]) -> Callable[[str], bool]:
    """Whether a path is like none of these, and lies in no folder that is."""
    import re
    from fnmatch import translate

    whole = [os.path.abspath(glob) for glob in globs]
    alike = [re.compile(translate(form)) for glob in whole for form in (glob, f"{glob}/*")]
    if not alike:
        return lambda path: True
    return lambda path: not any(one.match(os.path.abspath(path)) for one in alike)


def _same(path: str, other: str) -> bool:
    return os.path.realpath(path) == os.path.realpath(other)


def _listed(source: str) -> Iterator[str]:
    """The designs in a list of files; lists come from other tools and name other files too."""
    try:
        if source == STANDARD_INPUT:
            data = sys.stdin.buffer.read()
        else:
            with open(source, "rb") as file:
                data = file.read()
    except OSError as error:
        raise Unwritable(f"--files-from: '{source}' cannot be read: {error.strerror}") from None
    for one in data.split(b"\0" if b"\0" in data else b"\n"):
        path = os.fsdecode(one.rstrip(b"\r\n"))
        if path.endswith(ENDINGS) and os.path.basename(path) not in SETTINGS:
            yield path


def _changed(ref: str) -> list[str]:
    """The files that differ from a commit, and those that are not yet known to the repository."""
    if ref.startswith("-"):
        raise Unwritable(f"--changed: '{ref}' is no commit")
    root = _git("rev-parse", "--show-toplevel")[0]
    names = _git("diff", "--name-only", "-z", "--diff-filter=d", ref, "--")
    names += _git("ls-files", "--others", "--exclude-standard", "-z", "--full-name", root)
    return [os.path.realpath(os.path.join(root, name)) for name in names]


def _git(*words: str) -> list[str]:
    import subprocess

    try:
        done = subprocess.run(["git", *words], capture_output=True, check=False)
    except OSError:
        raise Unwritable("--changed: git is not installed, and it knows what changed") from None
    if done.returncode:
        said = os.fsdecode(done.stderr).strip().splitlines()
        raise Unwritable(f"--changed: git says: {said[0] if said else 'no reason'}")
    text = os.fsdecode(done.stdout)
    return [name for name in text.rstrip("\n").split("\0") if name]
