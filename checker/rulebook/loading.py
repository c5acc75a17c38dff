"""Reads rule files into rules: checks every name, unit and source, with file and line."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from functools import lru_cache
from pathlib import Path

from checker import __version__
from checker.outcome.results import Source
from checker.reading import bounded, yaml_reader
from checker.reading.documents import START, Mapping, Place, Problem
from checker.reading.package_data import data_folder, rule_files
from checker.rulebook.beside_records import Lever, Range, Tolerance
from checker.rulebook.beside_rules import BesideRules
from checker.rulebook.book import Code, Rulebook
from checker.rulebook.literals import condition, day_of
from checker.rulebook.misfits import Misfit, misfits_of, sound
from checker.rulebook.model import GENERAL, Condition, Document, Rule, Vocabulary
from checker.rulebook.nodes import REQUIRED
from checker.rulebook.overriding import altered, overridden
from checker.rulebook.rule_file import RuleFile
from checker.words import choices

SOURCES = "sources.yaml"

RANGES = "ranges.yaml"

CHANGES = "changes.yaml"

TOLERANCES = "tolerances.yaml"

NOT_RULES = frozenset(("complaints.yaml", "coverage.yaml", "materials.yaml", "words.yaml"))
"""Files of the rules' folder that hold neither rules nor anything that rules refer to."""

EVERY = "*"
"""Replaces every source where the file of the sources cannot be read."""


class BadRules(Exception):
    """Rule files cannot be used: (path, problem) for each mistake."""

    def __init__(self, problems: list[tuple[str, Problem]]) -> None:
        path, problem = problems[0]
        super().__init__(f"{path}:{problem.line}:{problem.column}: {problem.message}")
        self.problems = problems


def load(vocabulary: Vocabulary, folders: Iterable[Path] = ()) -> Rulebook:
    """Read the program's own rules and those of firms.

    Args:
        vocabulary: the names that rules may use.
        folders: a firm's folders of rule files, or single files; a rule of a later one replaces
            limits of the same rule in an earlier one.

    Returns:
        All rules, by id.

    Raises:
        BadRules: with every mistake in it, where any file is not as it must be.
    """
    book, problems = inspect(vocabulary, folders)
    if problems:
        raise BadRules(problems)
    return book


def inspect(
    vocabulary: Vocabulary, folders: Iterable[Path] = ()
) -> tuple[Rulebook, list[tuple[str, Problem]]]:
    """Read rules as `load` does, but give those that can be read whatever is wrong with others.

    Args:
        vocabulary: the names that rules may use.
        folders: a firm's folders of rule files, or single files, in the order of reading.

    Returns:
        The rules without mistakes, and every mistake with the path of its file as it is shown.
    """
    loader = _published(vocabulary, data_folder("rules")).copy()
    for folder in folders:
        loader.pack(folder)
    return loader.finish(), loader.problems


@lru_cache(maxsize=1)
def _published(vocabulary: Vocabulary, folder: Path) -> _Loader:
    """The program's own rules, which do not change while it runs."""
    loader = _Loader(vocabulary)
    loader.folder(folder, strict=False)
    loader.published = loader.edition
    return loader


class _Loader:
    """Rules that are being read, folder after folder."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        self.vocabulary = vocabulary
        self.rules: dict[str, Rule] = {}
        self.codes: dict[str, Code] = {}
        self.documents: dict[str, Document] = {}
        self.cautions: dict[str, str] = {}
        self.edition = ""
        self.digest = hashlib.sha256()
        self.problems: list[tuple[str, Problem]] = []
        self.group = GENERAL
        self.doubtful: set[str] = set()
        self.ranges: list[Range] = []
        self.levers: dict[str, Lever] = {}
        self.tolerances: dict[str, Tolerance] = {}
        self.made_for: tuple[str, Problem] | None = None
        self.altered: list[str] = []
        self.published = ""

    def copy(self) -> _Loader:
        """A copy that continues from here."""
        made = _Loader(self.vocabulary)
        for name, value in vars(self).items():
            setattr(made, name, value.copy() if hasattr(value, "copy") else value)
        return made

    def pack(self, folder: Path) -> None:
        """Read a firm's folder or file; where it has mistakes, say what it was made for."""
        edition, before = self.edition, len(self.problems)
        self.group, self.doubtful, self.made_for = f"own limits of {folder}", set(), None
        self.folder(folder, strict=True)
        if self.made_for is not None and len(self.problems) > before:
            path, made_for = self.made_for
            made_for.message += (
                f" This is prescreed {__version__} with rules {edition}; what is named of the "
                "pack does not fit these."
            )
            self.problems.insert(before, (path, made_for))

    def folder(self, folder: Path, *, strict: bool) -> None:
        """Read a folder of rule files, or a single file; mistakes are added to `problems`.

        Args:
            folder: its path.
            strict: whether each file is checked against its published schema first; tests check the
                program's own files.
        """
        if folder.is_dir():
            try:
                files = [
                    path for path in map(Path, rule_files(folder)) if path.name not in NOT_RULES
                ]
            except OSError as error:
                words = f"The folder cannot be read: {bounded.why(error)}."
                self.problems.append((str(folder), Problem(words)))
                return
            # What rules refer to is read before them.
            files.sort(key=lambda path: (path.name != SOURCES, path.name != CHANGES))
            root = folder
        else:
            files, root = [folder], folder.parent
            beside = root / SOURCES
            if beside.is_file() and folder.name != SOURCES:
                files.insert(0, beside)
        if not files:
            self.problems.append((str(folder), Problem("There is no rule file (*.yaml) here.")))
        for path in files:
            shown = str(path) if strict else f"rules/{path.relative_to(root).as_posix()}"
            try:
                data = bounded.start_of(path)
                self.digest.update(path.relative_to(root).as_posix().encode() + b"\0")
                # A checkout may convert line ends, which changes no rule.
                self.digest.update(data.replace(b"\r\n", b"\n") + b"\0")
                found = self.take(shown, path, data, strict=strict)
                found.sort(key=lambda problem: (problem.line, problem.column))
                self.problems.extend((shown, problem) for problem in found)
            except _Newer as newer:
                self.problems.append((shown, newer))
                return
            except Problem as problem:
                self.problems.append((shown, problem))
                if path.name == SOURCES:
                    self.doubtful.add(EVERY)
            except OSError as error:
                words = f"The file cannot be read: {bounded.why(error)}."
                self.problems.append((shown, Problem(words)))

    def take(self, shown: str, path: Path, data: bytes, *, strict: bool) -> list[Problem]:
        """Read one file; returns the mistakes in it. Raises Problem where nothing can be read."""
        is_sources = path.name == SOURCES
        mapping = yaml_reader.read(data, first="sources:" if is_sources else "title:")
        if path.name == RANGES:
            return self.take_ranges(shown, yaml_reader.read(data, first="ranges:"))
        if path.name == TOLERANCES:
            return self.take_tolerances(shown, yaml_reader.read(data, first="tolerances:"))
        if path.name == CHANGES:
            return self.take_changes(shown, mapping)
        before = None if is_sources else self.rules.get(path.stem)
        misfits: list[Misfit] = []
        if strict:
            optional = REQUIRED[:-1] if before is not None else ()
            misfits = list(misfits_of("sources" if is_sources else "rule", mapping, optional))
        if is_sources:
            return self.take_sources(shown, mapping, misfits, strict=strict)
        file = RuleFile(self, shown, mapping, before, misfits, own=strict)
        rule = file.rule(path.stem, path.parent.name)
        if rule is not None:
            if before is not None:
                self.altered += altered(before, rule)
                rule = overridden(before, rule)
            self.rules[rule.id] = rule
        return file.problems

    def take_sources(
        self, shown: str, mapping: Mapping, misfits: list[Misfit], *, strict: bool
    ) -> list[Problem]:
        """Read the codes, cautions and sources; returns the mistakes in them."""
        problems = [misfit.problem for misfit in misfits]
        if strict and sound(misfits, "made_for") and "made_for" in mapping:
            self.take_made_for(shown, mapping["made_for"], mapping.places["made_for"][1])
        if sound(misfits, "edition"):
            self.edition = mapping.get("edition", self.edition)
        for name, node in (mapping.get("codes") or {}).items():
            code = Code(name, name, ())
            if sound(misfits, "codes", name):
                code = Code(name, node["title"], tuple(node.get("regions", ())))
            before = self.codes.get(name)
            if before is not None and before.regions != code.regions:
                regions = (", ".join(one.regions) or "nowhere" for one in (code, before))
                self.altered.append("code {}: holds in {} instead of {}".format(name, *regions))
            self.codes[name] = code
        if sound(misfits, "cautions"):
            self.cautions.update(mapping.get("cautions", {}))
        sources = mapping.get("sources") or Mapping(START)
        for name, node in sources.items():
            try:
                if not sound(misfits, "sources", name):
                    self.doubtful.add(name)
                    continue
                document = self.document_of(name, node, sources.places[name][0])
                if self.documents.get(name, document) != document:
                    self.altered.append(f"source {name}: stated again")
                self.documents[name] = document
            except Problem as problem:
                self.doubtful.add(name)
                problems.append(problem)
        return problems

    def take_ranges(self, shown: str, mapping: Mapping) -> list[Problem]:
        """Read the ranges of unknown data; a firm's come before the program's."""
        misfits = [*misfits_of("ranges", mapping, ())]
        if misfits:
            return [misfit.problem for misfit in misfits]
        found: list[Range] = []
        problems: list[Problem] = []
        for node, place in zip(mapping["ranges"], mapping["ranges"].places, strict=True):
            file = BesideRules(self, shown, node, None, [], own=self.group != GENERAL)
            try:
                found.append(file.range(place))
            except Problem as problem:
                problems.append(problem)
            problems += file.problems
        self.ranges = found + self.ranges
        return problems

    def take_tolerances(self, shown: str, mapping: Mapping) -> list[Problem]:
        """Read the tolerances of what is built; a firm's replace the program's."""
        misfits = [*misfits_of("tolerances", mapping, ())]
        if misfits:
            return [misfit.problem for misfit in misfits]
        problems: list[Problem] = []
        nodes = mapping["tolerances"]
        for node, place in zip(nodes, nodes.places, strict=True):
            file = BesideRules(self, shown, node, None, [], own=self.group != GENERAL)
            try:
                self.tolerances[node["name"]] = file.tolerance(place)
            except Problem as problem:
                problems.append(problem)
            problems += file.problems
        return problems

    def take_changes(self, shown: str, mapping: Mapping) -> list[Problem]:
        """Read what may be changed in a design; a firm's replace the program's of the same name."""
        misfits = [*misfits_of("changes", mapping, ())]
        if misfits:
            return [misfit.problem for misfit in misfits]
        problems: list[Problem] = []
        for name, node in mapping["changes"].items():
            file = BesideRules(self, shown, node, None, [], own=self.group != GENERAL)
            try:
                self.levers[name] = file.lever(name)
            except Problem as problem:
                problems.append(problem)
        return problems

    def take_made_for(self, shown: str, made: Mapping, place: Place) -> None:
        """Note what a pack was made for; raises _Newer for a program that is newer than this."""
        program, rules = made.get("program", ""), made.get("rules", "")
        if program and _release(program) > _release(__version__):
            raise _Newer(
                f"made_for: the pack is made for prescreed {program}; this is {__version__}. "
                "Install the newer program, or take an older edition of the pack.",
                place,
            )
        named = [f"prescreed {program}"] * bool(program) + [f"rules {rules}"] * bool(rules)
        words = f"made_for: the pack was made for {' with '.join(named)}."
        self.made_for = shown, Problem(words, place)

    def document_of(self, name: str, node: Mapping, place: Place) -> Document:
        """The document that an entry of the sources describes; raises Problem."""
        code = node.get("code", GENERAL)
        if code and code not in self.codes:
            raise Problem(f"There is no code '{code}'; {choices(code, self.codes)}", place)
        force = node.get("in_force", {})
        source = Source(
            id=name,
            title=node["title"],
            clause=node.get("clause", ""),
            edition=node.get("edition", ""),
            standing=node["standing"],
            seen=node["seen"],
            **({"code": code} if code else {}),
        )
        start, end = (day_of(force.get(key), place) for key in ("from", "to"))
        return Document(
            source, code, start, end, self.scope(node.get("scope") or Mapping(START), place)
        )

    def scope(self, node: Mapping, place: Place) -> tuple[Condition, ...]:
        """The jobs that a source or a limit applies to, as fields of a whole design."""
        found = []
        for name, wanted in node.items():
            described = self.vocabulary.describe("design", name)
            if described is None:
                near = choices(name, self.vocabulary.names("design"))
                raise Problem(f"scope: '{name}' is not a field of a design; {near}", place)
            found.append(condition(name, wanted, described, place))
        return tuple(found)

    def document(self, name: str) -> Document | None:
        """The source of that name; one that itself has a mistake is left empty."""
        if name in self.documents or not {name, EVERY} & self.doubtful:
            return self.documents.get(name)
        return Document(Source(name, "", "", "", "guidance", "memory"), GENERAL, None, None)

    def finish(self) -> Rulebook:
        """All that was read, as a rulebook."""
        rules = tuple(self.rules[name] for name in sorted(self.rules))
        digest = f"sha256:{self.digest.hexdigest()}"
        ranges = tuple(self.ranges)
        return Rulebook(
            rules,
            self.codes,
            self.documents,
            self.edition,
            digest,
            ranges,
            self.published,
            tuple(self.tolerances.values()),
            self.levers,
            tuple(self.altered),
        )


class _Newer(Problem):
    """A pack for a newer program, which this one cannot check further."""


def _release(version: str) -> tuple[int, ...]:
    return tuple(int(part) for part in version.split(".") if part.isdigit())
