"""Policy: what a run holds designs to, apart from the designs themselves.

There is one: `--policy PATH`, else what stands in a commit (`--policy-from REF`), else the files
at the root of the repository that the call is made in, or in the folder of the call where there
is no repository. It is `prescreed.yaml`, or the table `[tool.prescreed]` of `pyproject.toml`, and
`prescreed.waivers.yaml` beside it. Each key is an option of `check` without its dashes:

    fail-on: minor
    codes: [EN-1264]
    rules: {edition: "2026-11", digest: "sha256:…", paths: [our-rules]}
    trust: [designs/own]

Whoever sends designs can send such files with them. So a file deeper down can only make it
stricter for the designs below it: a lower `fail-on`, more `fail-on-open`, more `codes`, one more
pin of the rules. What else it says does not hold and is named, unless the policy's `trust` names
its path. No file says where a report goes, what runs, which day it is or what is quiet.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from fnmatch import fnmatchcase
from functools import lru_cache
from typing import Any, NamedTuple

from msgspec import Struct

from checker.outcome.results import SEVERITIES
from checker.reading import bounded, yaml_reader
from checker.reading.design_files import SETTINGS_FILE, WAIVERS, root_of, upward
from checker.reading.digests import sha256
from checker.reading.mistakes import Unreadable
from checker.reading.yaml_reader import Mapping, Problem, Sequence, column_of, line_of
from checker.reports import FORMATS
from checker.run import git
from checker.words import calendar_day, choices
from checker.words.speech import AS_WRITTEN, DECIMALS, SYSTEMS

PROJECT_FILE = "pyproject.toml"
PIN = ("edition", "digest", "paths")
FAIL_ON = (*SEVERITIES, "never")
"""From the one that lets most through to the strictest; the last lets all through."""
USUAL = "major"
"""What `fail-on` is where nothing says it."""
NO_POLICY = "none"


class BadSettings(Exception):
    """Settings that cannot be used, with their place."""

    def __init__(self, problem: Unreadable) -> None:
        super().__init__(problem.message)
        self.problem = problem


class BadPolicy(Exception):
    """A policy that cannot be had, in words for the person."""


class Key(NamedTuple):
    """What a key takes: the reading of one text; whether it takes several; whether it is a path."""

    read: Callable[[str], Any] = str
    several: bool = False
    path: bool = False


def _one_of(known: Iterable[str]) -> Callable[[str], str]:
    options = tuple(known)

    def read(text: str) -> str:
        if text not in options:
            raise ValueError(f"'{text}' is not known; {choices(text, options)}")
        return text

    return read


def _yes(text: str) -> bool:
    if text not in ("true", "yes", "false", "no"):
        raise ValueError("write true or false")
    return text in ("true", "yes")


def _named(text: str) -> str:
    if not text.strip():
        raise ValueError("an empty text names nothing")
    return text


KEYS = {
    "fail-on": Key(_one_of(FAIL_ON)),
    "fail-on-open": Key(_named, several=True),
    "allow-unproven": Key(_yes),
    "strict": Key(_yes),
    "second-opinion": Key(_yes),
    "remedies": Key(_yes),
    "units": Key(_one_of((*SYSTEMS, AS_WRITTEN))),
    "decimal": Key(_one_of(DECIMALS)),
    "codes": Key(_named, several=True),
    "as-of": Key(calendar_day),
    "rules": Key(_named, several=True, path=True),
    "known": Key(_named, path=True),
    "exclude": Key(_named, several=True),
    "trust": Key(_named, several=True),
    "format": Key(_one_of(FORMATS), several=True),
    "table": Key(_one_of(("results", "computed"))),
    "summary": Key(_yes),
    "group-by": Key(_one_of(("severity", "rule"))),
    "category": Key(_named),
}
"""What a policy may say."""
STRICTER = ("fail-on", "fail-on-open", "codes")
"""What a file deeper down may say too, besides a pin of the rules."""
NOT_HERE = {
    "output": "where a report goes",
    "jobs": "what runs",
    "cluster": "what runs",
    "no-cache": "what runs",
    "changed": "which designs are meant",
    "governed": "which designs are meant",
    "files-from": "which designs are meant",
    "stdin-path": "which designs are meant",
    "with": "what is tried",
    "map": "how a sheet is read",
    "mark": "where a report goes",
    "open": "what runs",
    "policy": "which policy holds",
    "policy-from": "which policy holds",
    "today": "which day it is",
    "quiet": "what is said",
    "verbose": "what is said",
}
"""Options that no file may set, and what they say."""


class Setting(Struct, frozen=True):
    """One value: a text, or several; and where it stands."""

    value: str | tuple[str, ...]
    line: int = 1
    column: int = 1


class Settings(Struct, frozen=True):
    """What one file says; path: as it is shown; folder: where it lies; pin: what rules must be."""

    path: str
    folder: str
    file: str
    values: dict[str, Setting] = {}
    pin: dict[str, Setting] = {}

    def refuse(self, setting: Setting, message: str) -> BadSettings:
        """What is wrong with one of them."""
        return BadSettings(Unreadable(self.path, setting.line, setting.column, message))

    def where(self, name: str) -> str:
        """The place of a value."""
        return f"{self.path}:{self.values[name].line}"


class Glob(NamedTuple):
    """A pattern of paths, and the folder that it starts from."""

    folder: str
    pattern: str

    def __str__(self) -> str:
        return self.pattern

    def matches(self, path: str) -> bool:
        """Whether a path is like this, or lies in a folder that is."""
        pattern = os.path.normpath(self.pattern)
        whole = os.path.abspath(path)
        own = whole if os.path.isabs(pattern) else os.path.relpath(whole, self.folder)
        if own.startswith(os.pardir) and not pattern.startswith(os.pardir):
            return False
        return fnmatchcase(own, pattern) or fnmatchcase(own, f"{pattern}/*")


class Value(NamedTuple):
    """A value that holds, and where it stands."""

    value: Any
    origin: str


class Source:
    """Files as they lie in folders."""

    def read(self, path: str, most: int = bounded.LARGEST_FILE) -> bytes | None:
        """A file's content, nothing where there is none; raises OSError."""
        try:
            return bounded.content(path, most)
        except (FileNotFoundError, NotADirectoryError):
            return None

    def shown(self, path: str) -> str:
        """How reports name the file."""
        return os.path.relpath(path).replace(os.sep, "/")

    def pack(self, path: str, folder: str) -> str:
        """Where the rules of a path lie, that the loader can read."""
        return os.path.relpath(path)


class Commit(Source):
    """Files as they stood in a commit. Raises NoGit."""

    def __init__(self, ref: str, root: str) -> None:
        self.ref = ref
        self.root = root
        self.files = git.files(ref, root)

    def read(self, path: str, most: int = bounded.LARGEST_FILE) -> bytes | None:
        blob = self.files.get(self._name(path))
        if blob is None:
            return None
        if blob.size > most:
            raise OSError(f"it has more than the {most:,} bytes that it may have")
        return git.content(blob, self.root)

    def shown(self, path: str) -> str:
        return f"{self.ref}:{self._name(path)}"

    def pack(self, path: str, folder: str) -> str:
        name = self._name(path)
        own = [one for one in self.files if one == name or one.startswith(f"{name}/")]
        made = os.path.join(folder, name)
        for one in own:
            target = os.path.join(folder, one)
            os.makedirs(os.path.dirname(target), exist_ok=True)
            with open(target, "wb") as file:
                file.write(git.content(self.files[one], self.root))
        if not own:
            raise BadPolicy(f"rules: there is no '{self.shown(path)}'")
        return made

    def _name(self, path: str) -> str:
        return os.path.relpath(path, self.root).replace(os.sep, "/")


DISK = Source()


class Held(Struct, frozen=True):
    """What holds for the designs of one folder.

    values: by key, with its origin; further_codes: codes that count besides those that the design
    or its region says; pins: (file, name, setting) that the rules must meet; notes: what files say
    that does not hold, a line each; known_from: where the known findings are read.
    """

    values: dict[str, Value]
    further_codes: tuple[str, ...] = ()
    pins: tuple[tuple[Settings, str, Setting], ...] = ()
    notes: tuple[str, ...] = ()

    def get(self, name: str, default: Any = None) -> Any:
        """The value of a key."""
        return self.values[name].value if name in self.values else default


class Policy:
    """The policy of a call.

    root: the folder that it holds for; source: where its own files, and those that it trusts, are
    read; own: its settings, nothing where it has none; judged: folders from which nothing is taken
    at all, because they are what is judged.
    """

    def __init__(
        self,
        root: str,
        own: Settings | None,
        source: Source,
        waivers: str = "",
        judged: tuple[str, ...] = (),
    ) -> None:
        self.root = root
        self.own = own
        self.source = source
        self.waivers_path = waivers
        self.judged = judged
        self.notes: dict[str, None] = {}
        self._held: dict[str, Held] = {}
        values = read_values(own) if own else {}
        if "exclude" in values:  # a policy that lies elsewhere is for this root all the same
            globs, origin = values["exclude"]
            values["exclude"] = Value(tuple(Glob(root, one.pattern) for one in globs), origin)
        self.base = Held(values, (), _pins(own) if own else ())
        self.trusted = [
            os.path.realpath(os.path.join(root, path)) for path in self.base.get("trust", ())
        ]

    @property
    def name(self) -> str:
        """Whose policy holds, as reports say."""
        if self.own is not None:
            return self.own.path
        if self.waivers_path and self.source.read(self.waivers_path) is not None:
            return self.source.shown(self.waivers_path)
        return NO_POLICY

    def trusts(self, path: str) -> bool:
        """Whether the policy takes what a file further down says as its own."""
        real = os.path.realpath(path)
        return any(real == one or real.startswith(one + os.sep) for one in self.trusted)

    def takes_nothing_from(self, path: str) -> bool:
        """Whether a file lies among what is judged, in a call that takes nothing from there."""
        return any(_within(path, one) for one in self.judged)

    def _not_taken(self, path: str) -> None:
        self.notes[f"{path} is not taken: it lies among what is judged; --policy can name it"] = (
            None
        )

    def below(self, folder: str) -> list[str]:
        """The folders whose files may bear on a folder, the root's first."""
        chain = upward(folder)
        if _within(folder, self.root):
            chain = [one for one in chain if _within(one, self.root)]
        return chain[::-1]

    def at(self, folder: str) -> Held:
        """What holds for the designs of a folder; raises BadSettings."""
        if folder not in self._held:
            held = self.base
            for one in self.below(folder):
                for settings, trusted in self._deeper(one):
                    held = self._with(held, settings, trusted=trusted)
            self._held[folder] = held
        return self._held[folder]

    def _deeper(self, folder: str) -> Iterator[tuple[Settings, bool]]:
        """The files of a folder that are not the policy's own, and whether each is trusted."""
        for source in dict.fromkeys((self.source, DISK)):
            for settings in _in(folder, source):
                own = self.own is not None and settings.path == self.own.path
                if own:
                    continue
                if self.takes_nothing_from(settings.file):
                    self._not_taken(settings.path)
                    continue
                # A file is trusted as the policy's own source has it, not as a change makes it.
                yield settings, source is self.source and self.trusts(settings.file)

    def _with(self, held: Held, deeper: Settings, *, trusted: bool) -> Held:
        values, codes = dict(held.values), held.further_codes
        not_held = []
        for name, value in read_values(deeper).items():
            known = values.get(name)
            if name == "trust" or (not trusted and name not in STRICTER):
                not_held.append(name)
            elif trusted and name not in ("exclude", "rules", "fail-on-open"):
                values[name] = value
            elif name == "fail-on":
                before = known.value if known else USUAL
                if _stricter(value.value, before):
                    values[name] = value
                elif value.value != before:
                    not_held.append(name)
            elif name == "codes" and known is None:
                codes = (*codes, *(code for code in value.value if code not in codes))
            else:
                before = known.value if known else ()
                more = tuple(one for one in value.value if one not in before)
                values[name] = Value((*before, *more), value.origin)
        self.notes |= {
            f"{deeper.where(name)}: {name} does not hold: a file below the policy only makes it "
            "stricter, unless the policy's 'trust' names it": None
            for name in not_held
        }
        return Held(values, codes, (*held.pins, *_pins(deeper)))

    def waiver_files(self, folders: Iterable[str]) -> list[tuple[str, Source, str]]:
        """The waivers that may hold for designs of these folders: path, its source, its folder."""
        found = [(self.waivers_path, self.source, self.root)] if self.waivers_path else []
        own = os.path.realpath(self.waivers_path) if self.waivers_path else ""
        for folder in sorted({one for start in folders for one in self.below(start)}):
            path = os.path.join(folder, WAIVERS)
            if os.path.realpath(path) == own:
                continue
            if self.takes_nothing_from(path):
                if DISK.read(path) is not None:
                    self._not_taken(DISK.shown(path))
            elif self.trusts(path):
                found.append((path, self.source, folder))
            elif DISK.read(path) is not None:
                self.notes[
                    f"{DISK.shown(path)} does not hold: waivers count where the policy lies, or "
                    "where its 'trust' names them"
                ] = None
        return [one for one in found if one[1].read(one[0]) is not None]

    def altered(self, ref: str) -> list[str]:
        """What a change makes of the policy's files since a commit, a line each; raises NoGit."""
        before = Commit(ref, self.root) if not isinstance(self.source, Commit) else self.source
        told = []
        for name in (SETTINGS_FILE, PROJECT_FILE, WAIVERS):
            path = os.path.join(self.root, name)
            was, now = before.read(path), DISK.read(path)
            if was == now:
                continue
            shown = DISK.shown(path)
            if name == WAIVERS:
                told += _differences(shown, _entries(was), _entries(now))
            else:
                reader = _from_yaml if name == SETTINGS_FILE else _from_project
                told += _differences(shown, _said(was, path, reader), _said(now, path, reader))
        return told

    def digest(self, *contents: bytes) -> str:
        """A digest of the policy's own files and of these."""
        own = [self.source.read(self.own.file) or b""] if self.own else []
        made = sha256()
        for content in (*own, *contents):
            made.update(len(content).to_bytes(8, "little") + content)
        return f"sha256:{made.hexdigest()}"


def policy_of_call(path: str | None, ref: str | None, judged: tuple[str, ...] = ()) -> Policy:
    """The policy of a call; judged: the folders that it takes nothing from, where it is so.

    Raises BadSettings, BadPolicy.
    """
    here = os.getcwd()
    root = root_of(here)
    if path and ref:
        raise BadPolicy("--policy and --policy-from name two policies; leave one out")
    if path:
        return _named_policy(path, root, judged)
    if ref:
        if not os.path.exists(os.path.join(root, ".git")):
            raise BadPolicy("--policy-from: this is no repository, so it has no commits")
        try:
            source = Commit(ref, root)
            own = _in(root, source)
        except git.NoGit as error:
            raise BadPolicy(f"--policy-from: {error}") from None
        return Policy(root, own[0] if own else None, source, os.path.join(root, WAIVERS), judged)
    if any(_within(root, one) for one in judged):
        made = Policy(root, None, DISK, "", judged)
        for file in (SETTINGS_FILE, WAIVERS):
            if os.path.lexists(os.path.join(root, file)):
                made._not_taken(DISK.shown(os.path.join(root, file)))
        return made
    own = _in(root, DISK)
    return Policy(root, own[0] if own else None, DISK, os.path.join(root, WAIVERS), judged)


def _named_policy(path: str, root: str, judged: tuple[str, ...]) -> Policy:
    whole = os.path.abspath(path)
    if os.path.isdir(whole):
        found = _in(whole, DISK)
        waivers = os.path.join(whole, WAIVERS)
        if not found and not os.path.isfile(waivers):
            raise BadPolicy(f"--policy: there is no {SETTINGS_FILE} and no {WAIVERS} in '{path}'")
        return Policy(root, found[0] if found else None, DISK, waivers, judged)
    waivers = os.path.join(os.path.dirname(whole), WAIVERS)
    if os.path.basename(whole) == WAIVERS:
        if not os.path.isfile(whole):
            raise BadPolicy(f"--policy: there is no file '{path}'")
        return Policy(root, None, DISK, whole, judged)
    try:
        data = DISK.read(whole)
    except OSError as error:
        raise BadPolicy(f"--policy: '{path}' cannot be read: {bounded.why(error)}") from None
    if data is None:
        raise BadPolicy(f"--policy: there is no file or folder '{path}'")
    if whole.endswith(".toml"):
        own = _from_project(whole, DISK, data)
        if own is None:
            raise BadPolicy(f"--policy: '{path}' has no table [tool.prescreed]")
    else:
        own = _from_yaml(whole, DISK, data)
    return Policy(root, own, DISK, waivers, judged)


def read_values(settings: Settings) -> dict[str, Value]:
    """The values of a file as options take them, paths in full; raises BadSettings."""
    found = {}
    for name, setting in settings.values.items():
        key = KEYS.get(name)
        if key is None:
            if name in NOT_HERE:
                raise settings.refuse(
                    setting,
                    f"'{name}' cannot stand in a file: {NOT_HERE[name]} is for the call to say. "
                    "Take it out here.",
                )
            raise settings.refuse(setting, f"'{name}' is no setting; {choices(name, KEYS)}")
        several = isinstance(setting.value, tuple)
        texts = setting.value if isinstance(setting.value, tuple) else (setting.value,)
        if name in ("codes", "fail-on-open"):
            texts = tuple(part.strip() for text in texts for part in text.split(","))
        if name == "codes" and not any(texts):
            raise settings.refuse(
                setting,
                "codes: no code is named; write one or several, such as 'EN-1264,DE', or leave it "
                "out to judge by the codes of the design or its region.",
            )
        if several and not key.several:
            raise settings.refuse(setting, f"{name}: write one value.")
        try:
            read = tuple(key.read(text) for text in texts if text or name != "codes")
        except ValueError as error:
            ended = str(error).rstrip(".?")
            stop = "?" if str(error).endswith("?") else "."
            raise settings.refuse(setting, f"{name}: {ended}{stop}") from None
        if key.path:
            read = tuple(os.path.join(settings.folder, one) for one in read)
        if name == "exclude":
            read = tuple(Glob(settings.folder, one) for one in read)
        value = read if key.several else read[0]
        found[name] = Value(value, settings.where(name))
    return found


def _said(data: bytes | None, path: str, reader: Callable[..., Settings | None]) -> dict[str, str]:
    """What a settings file says, each key in a text."""
    try:
        found = reader(path, DISK, data) if data is not None else None
    except BadSettings as bad:
        return {"it": f"cannot be used: {bad.problem.message}"}
    if found is None:
        return {}
    both = {**found.values, **{f"rules, {name}": pin for name, pin in found.pin.items()}}
    return {
        name: ", ".join(one.value) if isinstance(one.value, tuple) else one.value
        for name, one in both.items()
    }


def _entries(data: bytes | None) -> dict[str, str]:
    """What a file of waivers says, an entry a key."""
    from checker.notes.waivers import BadWaivers, load

    try:
        found = load(data, "", "").waivers if data is not None else ()
    except BadWaivers as bad:
        return {"it": f"cannot be used: {bad.problems[0].message}"}
    return {
        f"waiver of {one.rule} for {one.subject} in {one.design}": f"until {one.until}, "
        f"up to {one.up_to or 'any value'}, by {one.by}: {one.reason}"
        for one in found
    }


def _differences(shown: str, was: dict[str, str], now: dict[str, str]) -> list[str]:
    return [
        f"{shown}: {name}: {was.get(name, 'not there')} → {now.get(name, 'not there')}"
        for name in dict.fromkeys([*was, *now])
        if was.get(name) != now.get(name)
    ]


def _stricter(one: str, other: str) -> bool:
    return one != "never" and (other == "never" or FAIL_ON.index(one) > FAIL_ON.index(other))


def _pins(settings: Settings) -> tuple[tuple[Settings, str, Setting], ...]:
    return tuple((settings, name, setting) for name, setting in settings.pin.items())


def _within(path: str, folder: str) -> bool:
    path, folder = os.path.realpath(path), os.path.realpath(folder)
    return path == folder or path.startswith(folder.rstrip(os.sep) + os.sep)


@lru_cache(maxsize=4096)
def _in(folder: str, source: Source) -> tuple[Settings, ...]:
    """The settings that stand in one folder, those that count first; raises BadSettings."""
    found = []
    for name, reader in ((SETTINGS_FILE, _from_yaml), (PROJECT_FILE, _from_project)):
        path = os.path.join(folder, name)
        try:
            data = source.read(path)
        except OSError as error:
            words = f"The file cannot be read: {bounded.why(error)}."
            raise BadSettings(Unreadable(source.shown(path), 1, 1, words)) from None
        settings = None if data is None else reader(path, source, data)
        if settings is not None:
            found.append(settings)
    return tuple(found)


def forget() -> None:
    """Read every file anew from now on."""
    _in.cache_clear()


def _from_yaml(path: str, source: Source, data: bytes) -> Settings:
    shown = source.shown(path)
    try:
        mapping = yaml_reader.read(data, first="fail-on: major")
        values = {_name(key): _setting(mapping, key) for key in mapping if key != "rules"}
        rules = mapping.get("rules")
        pin = {}
        if isinstance(rules, Mapping):
            _known_pin(rules, mapping.places["rules"][1])
            pin = {str(key): _setting(rules, key) for key in rules}
        elif rules is not None:
            values["rules"] = _setting(mapping, "rules")
    except Problem as problem:
        bad = Unreadable(shown, problem.line, problem.column, problem.message)
        raise BadSettings(bad) from None
    return _settings(path, shown, values, pin)


def _from_project(path: str, source: Source, data: bytes) -> Settings | None:
    import tomllib

    shown = source.shown(path)
    try:
        table = tomllib.loads(data.decode()).get("tool", {}).get("prescreed")
        if table is None:
            return None
        rules = table.pop("rules", None)
        pin = {}
        values = {
            _name(key): Setting(_plain(key, value), _line_of(key, data))
            for key, value in table.items()
        }
        if isinstance(rules, dict):
            _known_pin(rules, yaml_reader.START)
            pin = {key: Setting(_plain(key, value)) for key, value in rules.items()}
        elif rules is not None:
            values["rules"] = Setting(_plain("rules", rules))
    except tomllib.TOMLDecodeError as error:
        raise BadSettings(Unreadable(shown, 1, 1, f"This is not TOML: {error}.")) from None
    except (Problem, AttributeError) as problem:
        said = problem.message if isinstance(problem, Problem) else "it should be a table."
        raise BadSettings(Unreadable(shown, 1, 1, f"[tool.prescreed]: {said}")) from None
    except UnicodeDecodeError as error:
        words = f"The file cannot be read: {error}."
        raise BadSettings(Unreadable(shown, 1, 1, words)) from None
    return _settings(path, shown, values, pin)


def _line_of(key: str, data: bytes) -> int:
    """The line of a key in the program's table; TOML is read without places."""
    within = False
    for number, line in enumerate(data.decode().splitlines(), 1):
        text = line.strip()
        if text.startswith("["):
            within = text.startswith("[tool.prescreed")
        elif within and text.partition("=")[0].strip().strip("\"'") == key:
            return number
    return 1


def _settings(
    path: str, shown: str, values: dict[str, Setting], pin: dict[str, Setting]
) -> Settings:
    if "paths" in pin:
        values["rules"] = pin.pop("paths")
    return Settings(shown, os.path.dirname(path), path, values, pin)


def _known_pin(rules: Any, place: Any) -> None:
    for key in rules:
        if key not in PIN:
            raise Problem(f"rules: '{key}' is not known here; {choices(str(key), PIN)}", place)


def _setting(mapping: Mapping, key: Any) -> Setting:
    value, place = mapping[key], mapping.places[key][1]
    return Setting(_plain(str(key), value, place), line_of(place), column_of(place))


def _plain(key: str, value: Any, place: Any = yaml_reader.START) -> str | tuple[str, ...]:
    if isinstance(value, Sequence | list):
        if not all(isinstance(one, str | int) for one in value):
            raise Problem(f"{key}: a list here holds plain values.", place)
        return tuple(_text(one) for one in value)
    if value is None or isinstance(value, dict):
        raise Problem(f"{key}: write a value, or a list of values.", place)
    return _text(value)


def _text(value: Any) -> str:
    return str(value).lower() if isinstance(value, bool) else str(value)


def _name(key: Any) -> str:
    return str(key).replace("_", "-")
