"""Policy: what a run requires of designs, independent of the designs themselves.

There is one policy: `--policy PATH`, else the files in a commit (`--policy-from REF`), else those
at the root of the repository of the call, or in the folder of the call where there is no
repository. It is `prescreed.yaml`, or the table `[tool.prescreed]` of `pyproject.toml`, and
`prescreed.waivers.yaml` beside it. Each key is an option of `check` without its dashes:

    fail-on: minor
    codes: [EN-1264]
    rules: {edition: "2026-11", digest: "sha256:…", paths: [our-rules]}
    trust: [designs/own]

Whoever sends designs can send such files with them. So a file in a subfolder can only be stricter
for the designs below it: a lower `fail-on`, more `fail-on-open`, more `codes`, another pin of the
rules. Everything else in it is ignored and reported, unless the policy's `trust` names its path. No
file sets where a report goes, what runs, which day it is or what is quiet.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from typing import Any

from msgspec import Struct

from checker.reading import bounded
from checker.reading.design_files import SETTINGS_FILE, WAIVERS, root_of, upward
from checker.reading.digests import sha256
from checker.reading.paths import is_below, within
from checker.run import git
from checker.run.policy_sources import DISK, BadPolicy, Commit, Source
from checker.run.settings_files import (
    FAIL_ON,
    PROJECT_FILE,
    BadSettings,
    Glob,
    Setting,
    Settings,
    Value,
    from_project,
    from_yaml,
    read_values,
    settings_in,
)

USUAL = "major"
"""`fail-on` where nothing sets it."""
NO_POLICY = "none"


STRICTER = ("fail-on", "fail-on-open", "codes")
"""What a file in a subfolder may set too, besides a pin of the rules."""


class FolderPolicy(Struct, frozen=True):
    """The policy for the designs of one folder.

    Attributes:
        values: by key, with the origin of each.
        further_codes: codes that count in addition to those of the design or its region.
        pins: (file, name, setting) that the rules must meet.
    """

    values: dict[str, Value]
    further_codes: tuple[str, ...] = ()
    pins: tuple[tuple[Settings, str, Setting], ...] = ()

    def get(self, name: str, default: Any = None) -> Any:
        """The value of a key.

        Args:
            name: with hyphens, as in a settings file.
            default: what is returned where no file sets it.

        Returns:
            Read as the key needs it, paths complete.
        """
        return self.values[name].value if name in self.values else default


class Policy:
    """The policy of a call.

    Attributes:
        root: absolute path of the folder that it applies to.
        own: its settings; None where it has none.
        source: where its own files, and those that it trusts, are read.
        waivers_path: of its waivers, whether there are any or not; empty for none.
        judged: folders from which nothing is taken, because they are what is judged.
        notes: a line for each file, or setting in a file, that is ignored, as far as folders have
            been looked at.
        base: for designs beside its own files.
        trusted: real paths of files and folders below that count like its own.
    """

    def __init__(
        self,
        root: str,
        own: Settings | None,
        source: Source,
        waivers: str = "",
        judged: tuple[str, ...] = (),
    ) -> None:
        """Read the policy's own settings.

        Args:
            root: absolute path of the folder that it applies to.
            own: its settings, None where it has none.
            source: where its own files are read.
            waivers: the path of its waivers, whether there are any or not; empty for none.
            judged: absolute paths of folders from which nothing is taken.

        Raises:
            BadSettings: a setting is not known or its value is wrong.
        """
        self.root = root
        self.own = own
        self.source = source
        self.waivers_path = waivers
        self.judged = judged
        self.notes: dict[str, None] = {}
        self._by_folder: dict[str, FolderPolicy] = {}
        values = read_values(own) if own else {}
        if "exclude" in values:  # a policy that lies elsewhere is for this root all the same
            globs, origin = values["exclude"]
            values["exclude"] = Value(tuple(Glob(root, one.pattern) for one in globs), origin)
        self.base = FolderPolicy(values, (), _pins(own) if own else ())
        self.trusted = [
            os.path.realpath(os.path.join(root, path)) for path in self.base.get("trust", ())
        ]

    @property
    def name(self) -> str:
        """The name of the policy in reports."""
        if self.own is not None:
            return self.own.path
        if self.waivers_path and self.source.read(self.waivers_path) is not None:
            return self.source.shown(self.waivers_path)
        return NO_POLICY

    def trusts(self, path: str) -> bool:
        """Whether the policy accepts everything in a file in a subfolder.

        Args:
            path: of the file, absolute or from the working directory.

        Returns:
            True where the policy's `trust` names it, or a folder that it is in.
        """
        # Both where it lies and what it is: a link to a trusted file is not one where it lies.
        folder, name = os.path.split(os.path.abspath(path))
        both = (os.path.join(os.path.realpath(folder), name), os.path.realpath(path))
        return all(any(is_below(real, one) for one in self.trusted) for real in both)

    def takes_nothing_from(self, path: str) -> bool:
        """Whether a file is among what is judged, in a call that takes nothing from there.

        Args:
            path: of the file, absolute or from the working directory.

        Returns:
            True where it is in one of the `judged` folders, or below one.
        """
        return any(within(path, one) for one in self.judged)

    def _not_taken(self, path: str) -> None:
        self.notes[f"{path} is not used: it is among what is judged; --policy can name it"] = None

    def below(self, folder: str) -> list[str]:
        """The folders whose files may affect the designs of a folder.

        Args:
            folder: absolute.

        Returns:
            From the root to the folder itself: the policy's root where the folder is below that,
            else the root of the folder's own repository.
        """
        chain = upward(folder)
        if within(folder, self.root):
            chain = [one for one in chain if within(one, self.root)]
        return chain[::-1]

    def at(self, folder: str) -> FolderPolicy:
        """The policy for the designs of a folder.

        What is ignored in files on the way is added to `notes`.

        Args:
            folder: absolute.

        Returns:
            The policy with what files in subfolders add.

        Raises:
            BadSettings: one of these files has a mistake.
        """
        if folder not in self._by_folder:
            above = self.base
            for one in self.below(folder):
                for settings, trusted in self._deeper(one):
                    above = self._with(above, settings, trusted=trusted)
            self._by_folder[folder] = above
        return self._by_folder[folder]

    def _deeper(self, folder: str) -> Iterator[tuple[Settings, bool]]:
        """The files in subfolders, and whether each is trusted."""
        for source in dict.fromkeys((self.source, DISK)):
            for settings in settings_in(folder, source):
                own = self.own is not None and settings.path == self.own.path
                if own:
                    continue
                if self.takes_nothing_from(settings.file):
                    self._not_taken(settings.path)
                    continue
                # A file is trusted as the policy's own source has it, not as a change makes it.
                yield settings, source is self.source and self.trusts(settings.file)

    def _with(self, above: FolderPolicy, deeper: Settings, *, trusted: bool) -> FolderPolicy:
        values, codes = dict(above.values), above.further_codes
        ignored = []
        for name, value in read_values(deeper).items():
            known = values.get(name)
            if name == "trust" or (not trusted and name not in STRICTER):
                ignored.append(name)
            elif trusted and name not in ("exclude", "rules", "fail-on-open"):
                values[name] = value
            elif name == "fail-on":
                before = known.value if known else USUAL
                if _stricter(value.value, before):
                    values[name] = value
                elif value.value != before:
                    ignored.append(name)
            elif name == "codes" and known is None:
                codes = (*codes, *(code for code in value.value if code not in codes))
            else:
                before = known.value if known else ()
                more = tuple(one for one in value.value if one not in before)
                values[name] = Value((*before, *more), value.origin)
        self.notes |= {
            f"{deeper.where(name)}: {name} is ignored: a file below the policy can only make it "
            "stricter, unless the policy's 'trust' names it": None
            for name in ignored
        }
        return FolderPolicy(values, codes, (*above.pins, *_pins(deeper)))

    def waiver_files(self, folders: Iterable[str]) -> list[tuple[str, Source, str]]:
        """The files of waivers that may count for designs in some folders.

        What is not used among them is added to `notes`.

        Args:
            folders: absolute.

        Returns:
            Path, source and the folder whose designs each may be for; the policy's own first.
        """
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
                    f"{DISK.shown(path)} is ignored: waivers count where the policy is, or "
                    "where its 'trust' names them"
                ] = None
        return [one for one in found if one[1].read(one[0]) is not None]

    def altered(self, ref: str) -> list[str]:
        """How the policy's files differ from those in a commit.

        Args:
            ref: the commit, as for `git.commit`; not looked at where the policy itself is that of a
                commit.

        Returns:
            A line for each difference.

        Raises:
            NoGit: there is no such commit.
            OSError: a file cannot be read.
        """
        before = Commit(ref, self.root) if not isinstance(self.source, Commit) else self.source
        differences = []
        for name in (SETTINGS_FILE, PROJECT_FILE, WAIVERS):
            path = os.path.join(self.root, name)
            was, now = before.read(path), DISK.read(path)
            if was == now:
                continue
            shown = DISK.shown(path)
            if name == WAIVERS:
                differences += _differences(shown, _entries(was), _entries(now))
            else:
                reader = from_yaml if name == SETTINGS_FILE else from_project
                differences += _differences(
                    shown, _said(was, path, reader), _said(now, path, reader)
                )
        return differences

    def digest(self, *contents: bytes) -> str:
        """A digest of the policy.

        Args:
            *contents: what counts as a part of it besides its own settings file, such as waivers.

        Returns:
            `sha256:` and hexadecimal digits.
        """
        own = [self.source.read(self.own.file) or b""] if self.own else []
        made = sha256()
        for content in (*own, *contents):
            made.update(len(content).to_bytes(8, "little") + content)
        return f"sha256:{made.hexdigest()}"


def policy_of_call(path: str | None, ref: str | None, judged: tuple[str, ...] = ()) -> Policy:
    """The policy of a call.

    Args:
        path: the option --policy.
        ref: the option --policy-from.
        judged: absolute paths of folders from which nothing is taken.

    Returns:
        The policy, with its own settings read and checked.

    Raises:
        BadSettings: a settings file has a mistake.
        BadPolicy: the policy cannot be read.
    """
    here = os.getcwd()
    root = root_of(here)
    for option, value, named in (("policy", path, "file"), ("policy-from", ref, "commit")):
        # Else a variable that a pipeline did not set would let a change bring its own policy.
        if value is not None and not value.strip():
            raise BadPolicy(f"--{option}: an empty text names no {named}")
    if path and ref:
        raise BadPolicy("--policy and --policy-from name two policies; leave one out")
    if path:
        return _named_policy(path, root, judged)
    if ref:
        if not os.path.exists(os.path.join(root, ".git")):
            raise BadPolicy("--policy-from: this is not a repository, so it has no commits")
        try:
            source = Commit(ref, root)
            own = settings_in(root, source)
        except git.NoGit as error:
            raise BadPolicy(f"--policy-from: {error}") from None
        return Policy(root, own[0] if own else None, source, os.path.join(root, WAIVERS), judged)
    if any(within(root, one) for one in judged):
        made = Policy(root, None, DISK, "", judged)
        for file in (SETTINGS_FILE, WAIVERS):
            if os.path.lexists(os.path.join(root, file)):
                made._not_taken(DISK.shown(os.path.join(root, file)))
        return made
    own = settings_in(root, DISK)
    return Policy(root, own[0] if own else None, DISK, os.path.join(root, WAIVERS), judged)


def _named_policy(path: str, root: str, judged: tuple[str, ...]) -> Policy:
    whole = os.path.abspath(path)
    if os.path.isdir(whole):
        found = settings_in(whole, DISK)
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
        own = from_project(whole, DISK, data)
        if own is None:
            raise BadPolicy(f"--policy: '{path}' has no table [tool.prescreed]")
    else:
        own = from_yaml(whole, DISK, data)
    return Policy(root, own, DISK, waivers, judged)


def _said(data: bytes | None, path: str, reader: Callable[..., Settings | None]) -> dict[str, str]:
    """The content of a settings file, each key as a text."""
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
    """The content of a file of waivers, each entry under a key."""
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
