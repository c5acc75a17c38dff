"""Settings: what a project's calls have in common, in a file beside its designs.

`prescreed.yaml`, or the table `[tool.prescreed]` of `pyproject.toml`; the one nearest to the
design counts, up to the root of its repository. Each key is a command-line option without its
dashes. `rules` may also pin the rules:

    fail-on: minor
    codes: [EN-1264]
    rules: {edition: "2026-11", digest: "sha256:…", paths: [our-rules]}

Of the files above the nearest one nothing is mixed in, so that a file says all that holds for its
designs; `prescreed settings` and `--verbose` name those files. The pin alone is inherited: every
edition and digest up to the root must be that of the rules, for whoever pins them for a repository
pins them for all of it, and a folder may add a pin but not lift one.

What stands here is read, not understood: which keys there are is the command's to say.
"""

from __future__ import annotations

import os
from functools import lru_cache
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from checker.reading import yaml_reader
from checker.reading.design_files import SETTINGS_FILE, upward
from checker.reading.mistakes import Unreadable
from checker.reading.yaml_reader import Mapping, Problem, Sequence, column_of, line_of
from checker.words import choices

PROJECT_FILE = "pyproject.toml"
PIN = ("edition", "digest", "paths")


class BadSettings(Exception):
    """Settings that cannot be used, with their place."""

    def __init__(self, problem: Unreadable) -> None:
        super().__init__(problem.message)
        self.problem = problem


class Setting(Struct, frozen=True):
    """One value: a text, or several; and where it stands."""

    value: str | tuple[str, ...]
    line: int = 1
    column: int = 1


class Settings(Struct, frozen=True):
    """The settings of one file.

    pin: what the rules must be; above: the files that this one stands in for, nearest first, of
    which only the pin counts.
    """

    path: str
    folder: str
    values: dict[str, Setting] = {}
    pin: dict[str, Setting] = {}
    above: tuple[Settings, ...] = ()

    def refuse(self, setting: Setting, message: str) -> BadSettings:
        """What is wrong with one of them."""
        return BadSettings(Unreadable(self.path, setting.line, setting.column, message))


NONE = Settings("", "")


@lru_cache(maxsize=4096)
def nearest(folder: str) -> Settings:
    """The settings that count in a folder; NONE where there are none. Raises BadSettings."""
    found = [settings for above in upward(folder) for settings in _in(above)]
    return replace(found[0], above=tuple(found[1:])) if found else NONE


@lru_cache(maxsize=4096)
def _in(folder: str) -> list[Settings]:
    """The settings that stand in one folder, those that count first."""
    own = os.path.join(folder, SETTINGS_FILE)
    project = os.path.join(folder, PROJECT_FILE)
    found = [_from_yaml(own)] if os.path.isfile(own) else []
    table = _from_project(project) if os.path.isfile(project) else None
    return [*found, *([table] if table else [])]


def _from_yaml(path: str) -> Settings:
    shown = _shown(path)
    try:
        with open(path, "rb") as file:
            mapping = yaml_reader.read(file.read(), first="fail-on: major")
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
    except OSError as error:
        words = f"The file cannot be read: {error.strerror or error}."
        raise BadSettings(Unreadable(shown, 1, 1, words)) from None
    return _settings(path, values, pin)


def _from_project(path: str) -> Settings | None:
    import tomllib

    try:
        with open(path, "rb") as file:
            table = tomllib.load(file).get("tool", {}).get("prescreed")
        if table is None:
            return None
        rules = table.pop("rules", None)
        pin = {}
        values = {_name(key): Setting(_plain(key, value)) for key, value in table.items()}
        if isinstance(rules, dict):
            _known_pin(rules, yaml_reader.START)
            pin = {key: Setting(_plain(key, value)) for key, value in rules.items()}
        elif rules is not None:
            values["rules"] = Setting(_plain("rules", rules))
    except tomllib.TOMLDecodeError as error:
        raise BadSettings(Unreadable(_shown(path), 1, 1, f"This is not TOML: {error}.")) from None
    except Problem as problem:
        words = f"[tool.prescreed]: {problem.message}"
        raise BadSettings(Unreadable(_shown(path), 1, 1, words)) from None
    except (OSError, UnicodeDecodeError) as error:
        words = f"The file cannot be read: {error}."
        raise BadSettings(Unreadable(_shown(path), 1, 1, words)) from None
    return _settings(path, values, pin)


def _settings(path: str, values: dict[str, Setting], pin: dict[str, Setting]) -> Settings:
    if "paths" in pin:
        values["rules"] = pin.pop("paths")
    return Settings(_shown(path), os.path.dirname(path), values, pin)


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
    return str(key).replace("-", "_")


def _shown(path: str) -> str:
    return os.path.relpath(path).replace(os.sep, "/")
