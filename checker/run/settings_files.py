"""A file of settings as written: its keys and values with their places, and what each may be."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterable
from fnmatch import fnmatchcase
from functools import lru_cache
from typing import Any, NamedTuple

from msgspec import Struct

from checker.outcome.results import SEVERITIES
from checker.reading import bounded, yaml_reader
from checker.reading.design_files import SETTINGS_FILE
from checker.reading.documents import START, Mapping, Problem, Sequence, column_of, line_of
from checker.reading.mistakes import Unreadable
from checker.reports import FORMATS
from checker.run.policy_sources import Source
from checker.words import calendar_day, choices
from checker.words.speech import AS_WRITTEN, DECIMALS, SYSTEMS

PROJECT_FILE = "pyproject.toml"
PIN = ("edition", "digest", "paths")
FAIL_ON = (*SEVERITIES, "never")
"""From the least strict to the strictest value; the last lets everything pass."""


class BadSettings(Exception):
    """Settings cannot be used; holds their place."""

    def __init__(self, problem: Unreadable) -> None:
        super().__init__(problem.message)
        self.problem = problem


class Key(NamedTuple):
    """How a key's values are read.

    Attributes:
        read: from a text to a value; raises ValueError, whose message says what to write.
        several: whether there may be several.
        path: whether it is a path, from the file's folder.
    """

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


def web_address(text: str) -> str:
    """Read an address that a report may link to.

    Args:
        text: as it is typed.

    Returns:
        The same text.

    Raises:
        ValueError: it does not begin with https:// or http://, or has characters that an address
            cannot have.
    """
    if not re.fullmatch(r"https?://[^\s<>\"'\\^`{|}]+", text):
        raise ValueError("write an address that begins with https:// or http://")
    return text


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
    "manual": Key(web_address),
}
"""The keys that a policy may have."""
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
"""Options that no file may set, and what they set."""


class Setting(Struct, frozen=True):
    """One value and its place.

    Attributes:
        value: a text, or several.
        line: from 1.
        column: from 1.
    """

    value: str | tuple[str, ...]
    line: int = 1
    column: int = 1


class Settings(Struct, frozen=True):
    """The content of one file.

    Attributes:
        path: as reports name it.
        folder: absolute path of its folder.
        file: absolute path.
        values: by key, as written.
        pin: of the rules, by `edition` and `digest`.
    """

    path: str
    folder: str
    file: str
    values: dict[str, Setting] = {}
    pin: dict[str, Setting] = {}

    def refuse(self, setting: Setting, message: str) -> BadSettings:
        """The error for a mistake in one of the values.

        Args:
            setting: the value, one of `values` or `pin`.
            message: what is wrong, and what to write instead.

        Returns:
            To be raised by the caller.
        """
        return BadSettings(Unreadable(self.path, setting.line, setting.column, message))

    def where(self, name: str) -> str:
        """The place of a value.

        Args:
            name: its key, as in `values`.

        Returns:
            File and line, such as `prescreed.yaml:3`.
        """
        return f"{self.path}:{self.values[name].line}"


class Glob(NamedTuple):
    """A pattern of paths.

    Attributes:
        folder: where it starts, absolute.
        pattern: * matches any characters, / too.
    """

    folder: str
    pattern: str

    def __str__(self) -> str:
        return self.pattern

    def matches(self, path: str) -> bool:
        """Whether a path matches, or is in a folder that does.

        Args:
            path: absolute, or from the working directory.

        Returns:
            False for a path outside the pattern's folder, unless the pattern is absolute or leads
            there (`../`).
        """
        pattern = os.path.normpath(self.pattern)
        whole = os.path.abspath(path)
        own = whole if os.path.isabs(pattern) else os.path.relpath(whole, self.folder)
        if own.startswith(os.pardir) and not pattern.startswith(os.pardir):
            return False
        return fnmatchcase(own, pattern) or fnmatchcase(own, f"{pattern}/*")


class Value(NamedTuple):
    """A value in force.

    Attributes:
        value: as the key needs it, paths complete.
        origin: its file and line.
    """

    value: Any
    origin: str


def read_values(settings: Settings) -> dict[str, Value]:
    """The values of a file as options need them.

    Args:
        settings: the file as it is written.

    Returns:
        By key, with the place of each; paths are complete.

    Raises:
        BadSettings: a key is not known or must not be in a file, or its value is wrong.
    """
    found = {}
    for name, setting in settings.values.items():
        key = KEYS.get(name)
        if key is None:
            if name in NOT_HERE:
                raise settings.refuse(
                    setting,
                    f"'{name}' cannot be set in a file: {NOT_HERE[name]} is for the call to say. "
                    "Take it out here.",
                )
            raise settings.refuse(setting, f"'{name}' is not a setting; {choices(name, KEYS)}")
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


@lru_cache(maxsize=4096)
def settings_in(folder: str, source: Source) -> tuple[Settings, ...]:
    """The settings in one folder, remembered until `forget`.

    Args:
        folder: absolute.
        source: where its files are read.

    Returns:
        At most two, the one that counts more first.

    Raises:
        BadSettings: a file cannot be read, or is not laid out as settings are.
    """
    found = []
    for name, reader in ((SETTINGS_FILE, from_yaml), (PROJECT_FILE, from_project)):
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
    """Read every file again from now on."""
    settings_in.cache_clear()


def from_yaml(path: str, source: Source, data: bytes) -> Settings:
    """The settings in a `prescreed.yaml`.

    Args:
        path: of the file, absolute.
        source: says how reports name it.
        data: its bytes.

    Returns:
        As written; keys and values are checked by `read_values`.

    Raises:
        BadSettings: it is not laid out as settings are.
    """
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


def from_project(path: str, source: Source, data: bytes) -> Settings | None:
    """The settings in the table `[tool.prescreed]` of a project file.

    Args:
        path: of the file, absolute.
        source: says how reports name it.
        data: its bytes.

    Returns:
        As written; None where it has no such table.

    Raises:
        BadSettings: it is not TOML, or the table is not laid out as settings are.
    """
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
            _known_pin(rules, START)
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


def _plain(key: str, value: Any, place: Any = START) -> str | tuple[str, ...]:
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
