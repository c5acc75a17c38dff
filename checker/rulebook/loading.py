"""Rule files to rules: every name, unit and source in them checked, with file and line."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Iterator
from collections.abc import Sequence as Sequenced
from datetime import date
from functools import cache, partial
from math import isfinite
from pathlib import Path
from string import Formatter
from typing import Any, NamedTuple, TypeVar

from msgspec.structs import replace

from checker import __version__, units
from checker.outcome.results import SEVERITIES, Source
from checker.reading import bounded, yaml_reader
from checker.reading.package_data import data_folder, rule_files
from checker.reading.yaml_reader import START, Mapping, Place, Problem, Sequence, line_of
from checker.rulebook.model import (
    GENERAL,
    REVIEW_GAP,
    STAGES,
    Bound,
    Code,
    Condition,
    Described,
    Document,
    Example,
    Lever,
    Range,
    Rule,
    Rulebook,
    RuleLimit,
    Steps,
    Table,
    Tolerance,
    Uncertainty,
    Vocabulary,
)
from checker.words import choices

COMPARISONS = ("at_most", "at_least", "between", "one_of", "before", "after", "review")
BOOLEANS = {"true": 1.0, "yes": 1.0, "false": 0.0, "no": 0.0}
SOURCES = "sources.yaml"
RANGES = "ranges.yaml"
CHANGES = "changes.yaml"
TOLERANCES = "tolerances.yaml"
SIZES = {"pipe size": "length", "flow setters": "volume_flow"}
"""Changes whose sizes are pairs, and of what."""
DAY = 86_400.0


class BadRules(Exception):
    """Rule files that cannot be used: (path, problem) for each mistake."""

    def __init__(self, problems: list[tuple[str, Problem]]) -> None:
        path, problem = problems[0]
        super().__init__(f"{path}:{problem.line}:{problem.column}: {problem.message}")
        self.problems = problems


def load(vocabulary: Vocabulary, folders: Iterable[Path] = ()) -> Rulebook:
    """The program's own rules and those of a firm's folders or files, later ones over earlier.

    Raises BadRules, with every mistake in it, for a file that is not a rule.
    """
    book, problems = inspect(vocabulary, folders)
    if problems:
        raise BadRules(problems)
    return book


def inspect(
    vocabulary: Vocabulary, folders: Iterable[Path] = ()
) -> tuple[Rulebook, list[tuple[str, Problem]]]:
    """The rules that can be read, as `load` has them, and every mistake: (path, problem)."""
    loader = _Loader(vocabulary)
    loader.folder(data_folder("rules"), strict=False)
    loader.published = loader.edition
    for folder in folders:
        loader.pack(folder)
    return loader.finish(), loader.problems


class _Loader:
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

    def pack(self, folder: Path) -> None:
        """Take a firm's folder or file; where it has mistakes, say what it was made for."""
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
        """Take a folder of rule files, or a single one.

        strict: hold each file to its published schema first; the program's own files are held
        to it by the tests.
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
            # What rules name comes before them.
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
                # A checkout may turn line ends, which change no rule.
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
        """Take one file; returns the mistakes in it. Raises Problem where nothing can be read."""
        is_sources = path.name == SOURCES
        mapping = yaml_reader.read(data, first="sources:" if is_sources else "title:")
        if path.name == RANGES:
            return self.take_ranges(shown, yaml_reader.read(data, first="ranges:"))
        if path.name == TOLERANCES:
            return self.take_tolerances(shown, yaml_reader.read(data, first="tolerances:"))
        if path.name == CHANGES:
            return self.take_changes(shown, mapping)
        before = None if is_sources else self.rules.get(path.stem)
        misfits: list[_Misfit] = []
        if strict:
            optional = REQUIRED[:-1] if before is not None else ()
            misfits = list(_misfits("sources" if is_sources else "rule", mapping, optional))
        if is_sources:
            return self.take_sources(shown, mapping, misfits, strict=strict)
        file = _RuleFile(self, shown, mapping, before, misfits, own=strict)
        rule = file.rule(path.stem, path.parent.name)
        if rule is not None:
            if before is not None:
                self.altered += _altered(before, rule)
                rule = _overridden(before, rule)
            self.rules[rule.id] = rule
        return file.problems

    def take_sources(
        self, shown: str, mapping: Mapping, misfits: list[_Misfit], *, strict: bool
    ) -> list[Problem]:
        problems = [misfit.problem for misfit in misfits]
        if strict and _sound(misfits, "made_for") and "made_for" in mapping:
            self.take_made_for(shown, mapping["made_for"], mapping.places["made_for"][1])
        if _sound(misfits, "edition"):
            self.edition = mapping.get("edition", self.edition)
        for name, node in (mapping.get("codes") or {}).items():
            code = Code(name, name, ())
            if _sound(misfits, "codes", name):
                code = Code(name, node["title"], tuple(node.get("regions", ())))
            before = self.codes.get(name)
            if before is not None and before.regions != code.regions:
                regions = (", ".join(one.regions) or "nowhere" for one in (code, before))
                self.altered.append("code {}: holds in {} instead of {}".format(name, *regions))
            self.codes[name] = code
        if _sound(misfits, "cautions"):
            self.cautions.update(mapping.get("cautions", {}))
        sources = mapping.get("sources") or Mapping(START)
        for name, node in sources.items():
            try:
                if not _sound(misfits, "sources", name):
                    self.doubtful.add(name)
                    continue
                document = self.document_of(name, node, sources.places[name][0])
                if self.documents.get(name, document) != document:
                    self.altered.append(f"source {name}: stated anew")
                self.documents[name] = document
            except Problem as problem:
                self.doubtful.add(name)
                problems.append(problem)
        return problems

    def take_ranges(self, shown: str, mapping: Mapping) -> list[Problem]:
        """Take where data that are not known lie; a firm's own go before ours."""
        misfits = [*_misfits("ranges", mapping, ())]
        if misfits:
            return [misfit.problem for misfit in misfits]
        found: list[Range] = []
        problems: list[Problem] = []
        for node, place in zip(mapping["ranges"], mapping["ranges"].places, strict=True):
            file = _RuleFile(self, shown, node, None, [], own=self.group != GENERAL)
            try:
                found.append(file.range(place))
            except Problem as problem:
                problems.append(problem)
            problems += file.problems
        self.ranges = found + self.ranges
        return problems

    def take_tolerances(self, shown: str, mapping: Mapping) -> list[Problem]:
        """Take how far what is built lies from what is stated; a firm's own replace ours."""
        misfits = [*_misfits("tolerances", mapping, ())]
        if misfits:
            return [misfit.problem for misfit in misfits]
        problems: list[Problem] = []
        nodes = mapping["tolerances"]
        for node, place in zip(nodes, nodes.places, strict=True):
            file = _RuleFile(self, shown, node, None, [], own=self.group != GENERAL)
            try:
                self.tolerances[node["name"]] = file.tolerance(place)
            except Problem as problem:
                problems.append(problem)
            problems += file.problems
        return problems

    def take_changes(self, shown: str, mapping: Mapping) -> list[Problem]:
        """Take what may be changed in a design; a firm's own replace ours of the same name."""
        misfits = [*_misfits("changes", mapping, ())]
        if misfits:
            return [misfit.problem for misfit in misfits]
        problems: list[Problem] = []
        for name, node in mapping["changes"].items():
            file = _RuleFile(self, shown, node, None, [], own=self.group != GENERAL)
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
        start, end = (_day(force.get(key), place) for key in ("from", "to"))
        return Document(
            source, code, start, end, self.scope(node.get("scope") or Mapping(START), place)
        )

    def scope(self, node: Mapping, place: Place) -> tuple[Condition, ...]:
        """The jobs that a source or a limit is about, as fields of a whole design."""
        found = []
        for name, wanted in node.items():
            described = self.vocabulary.describe("design", name)
            if described is None:
                near = choices(name, self.vocabulary.names("design"))
                raise Problem(f"scope: '{name}' is no field of a design; {near}", place)
            found.append(_condition(name, wanted, described, place))
        return tuple(found)

    def document(self, name: str) -> Document | None:
        """The source of that name; one that itself has a mistake stands empty for the time."""
        if name in self.documents or not {name, EVERY} & self.doubtful:
            return self.documents.get(name)
        return Document(Source(name, "", "", "", "guidance", "memory"), GENERAL, None, None)

    def finish(self) -> Rulebook:
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
    """A pack for a newer program, of which nothing more can be said."""


EVERY = "*"
"""Stands for all sources, where the file of the sources itself cannot be read."""


def _release(version: str) -> tuple[int, ...]:
    return tuple(int(part) for part in version.split(".") if part.isdigit())


NOT_RULES = frozenset(("complaints.yaml", "coverage.yaml", "materials.yaml", "words.yaml"))
"""Files of the rules' folder that are neither rules nor what rules stand on."""


def _altered(before: Rule, after: Rule) -> Iterator[str]:
    """What a firm's rule makes of ours besides its limits, in words."""
    if after.severity != before.severity:
        yield f"{before.id}: severity {after.severity} instead of {before.severity}"
    if after.stage != before.stage:
        yield f"{before.id}: from {after.stage} instead of {before.stage}"
    if after.applies != before.applies:
        own, ours = (
            " and ".join(one.words for one in rule.applies) or "always" for rule in (after, before)
        )
        yield f"{before.id}: applies where {own} instead of {ours}"
    if after.waivable and not before.waivable:
        yield f"{before.id}: even a critical fail may be waived"
    known = {limit.id: limit for limit in before.limits}
    for limit in after.limits:
        ours_of = known.get(limit.id)
        if ours_of is not None and limit.severity != ours_of.severity:
            yield f"{before.id}: limit {limit.id} {limit.severity} instead of {ours_of.severity}"
        if ours_of is not None and limit.fallback and not ours_of.fallback:
            yield f"{before.id}: limit {limit.id} counts only where no other could be worked out"


def _overridden(before: Rule, after: Rule) -> Rule:
    """A firm's rule over ours: its limits replace those with the same id, or join them."""
    known = {limit.id: limit for limit in before.limits}
    for limit in after.limits:
        replaced = known.get(limit.id)
        if replaced is not None:
            instead = f"{replaced.source.id} {replaced.source.clause}".strip()
            limit = replace(limit, source=replace(limit.source, replaces=instead))
            if limit.document.code == replaced.document.code:
                limit = replace(limit, group=replaced.group)
        known[limit.id] = limit
    return after.with_limits(tuple(known.values()))


def _day(text: str | None, place: Any) -> date | None:
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise Problem(f"'{text}' is not a date; write year-month-day.", place) from None


@cache
def _validator(name: str) -> Any:
    from jsonschema import Draft202012Validator

    schema = json.loads((data_folder("schemas") / f"{name}.schema.json").read_text("utf-8"))
    return Draft202012Validator(schema)


class _Misfit(NamedTuple):
    """What does not fit the schema: the keys that lead there, and the problem."""

    path: tuple[str | int, ...]
    problem: Problem


def _sound(misfits: list[_Misfit], *path: str | int) -> bool:
    """Whether this part of a file fits its schema, in itself and as a whole."""
    return not any(
        misfit.path and all(a == b for a, b in zip(misfit.path, path, strict=False))
        for misfit in misfits
    )


def _misfits(name: str, mapping: Mapping, optional: Sequenced[str]) -> Iterator[_Misfit]:
    """Everything that does not fit the schema; `optional` keys may be left out at the top."""
    from jsonschema.exceptions import best_match

    parts: dict[tuple[str | int, ...], list[Any]] = {}
    for error in _validator(name).iter_errors(mapping):
        if error.validator == "required" and not error.absolute_path:
            missing = [key for key in error.validator_value if key not in mapping]
            if set(missing) <= set(optional):
                continue
        parts.setdefault(tuple(error.absolute_path), []).append(error)
    for errors in parts.values():
        # A mistyped key is also a missing one; the typo is what to tell.
        unknown = [error for error in errors if error.validator == "additionalProperties"]
        yield from _told(best_match(unknown) or best_match(errors), mapping, optional)


_KINDS = {
    "string": "a value",
    "array": "a list, '[one, other]'",
    "object": "a mapping, 'key: value'",
    "number": "a number",
    "integer": "a whole number",
    "boolean": "true or false",
    "null": "nothing",
}
"""What a rule file can hold, by its name in JSON Schema."""


def _told(error: Any, mapping: Mapping, optional: Sequenced[str]) -> Iterator[_Misfit]:
    holder: Any = mapping
    place = mapping.place
    for step in error.absolute_path:
        found = holder.places[step]
        place = found[1] if isinstance(holder, Mapping) else found
        holder = holder[step]
    path = tuple(error.absolute_path)
    where = ".".join(str(step + 1) if isinstance(step, int) else step for step in path)
    lead = f"{where}: " if where else ""
    if error.validator == "additionalProperties":
        known = error.schema["properties"]
        for key in holder:
            if key not in known:
                words = f"{lead}the key '{key}' is not known here; {choices(key, known)}"
                yield _Misfit(path, Problem(words, holder.places[key][0]))
        return
    words = error.message
    if error.validator == "required":
        missing = [key for key in error.validator_value if key not in holder]
        quoted = " and ".join(f"'{key}'" for key in missing if where or key not in optional)
        many = "s" * (" and " in quoted)
        words = f"the key{many} {quoted} {'are' if many else 'is'} missing here"
    elif error.validator == "enum":
        words = f"'{holder}' is not known here; {choices(str(holder), error.validator_value)}"
    elif holder is None:
        words = "there is no value here; write one, or leave the key out"
    elif error.validator == "type" and path[-1:] == ("source",):
        words = (
            "write the id of a source here, 'source: our-manual'; what it is stands in "
            "sources.yaml, under 'sources:'"
        )
    elif error.validator == "type":
        found = "a list" if isinstance(holder, Sequence) else "a mapping"
        found = f"'{holder}'" if isinstance(holder, str) else found
        kinds = error.validator_value
        named = [_KINDS[kind] for kind in ([kinds] if isinstance(kinds, str) else kinds)]
        words = f"{found} stands here; write {' or '.join(named)}"
    yield _Misfit(path, Problem(f"{lead}{words}", place))


_WRITTEN = {
    "quantity": "a plain number",
    "integer": "a whole number",
    "boolean": "true or false",
    "date": "a date, year-month-day",
}


def literal(text: str, described: Described) -> float:
    """A value as a rule writes it, as a column holds it; raises ValueError in a person's words."""
    try:
        if described.kind == "quantity":
            if described.measure != "ratio":
                return units.parse(text, described.measure)
            value = float(text)
            if not isfinite(value):
                raise ValueError
            return value
        if described.kind == "integer":
            return float(int(text))
        if described.kind == "boolean":
            return BOOLEANS[text.lower()]
        if described.kind == "date":
            return float(date.fromisoformat(text).toordinal())
        return float(described.options.index(text))
    except units.UnitError:
        raise
    except (ValueError, KeyError):
        if described.options:
            words = f"'{text}' is not known here; {choices(text, described.options)}"
        else:
            words = f"'{text}' is not {_WRITTEN[described.kind]}."
        raise ValueError(words) from None


def _number(text: str, described: Described, place: Any) -> float:
    """A literal of the described kind, as a column holds it."""
    try:
        return literal(text, described)
    except ValueError as error:
        raise Problem(str(error), place) from None


def _difference(text: str, described: Described, place: Place) -> float:
    """A step of what is described: kelvin of a temperature, days of a date; raises Problem."""
    if described.measure == "temperature":
        described = replace(described, measure="temperature_difference")
    if described.kind == "date":
        return _number(text, Described("quantity", measure="duration"), place) / DAY
    return _number(text, described, place)


def _given(steps: Steps) -> dict[str, Any]:
    """What is given of some steps: neither nothing nor NaN."""
    own = {name: getattr(steps, name) for name in steps.__struct_fields__}
    return {
        name: value for name, value in own.items() if value not in ((), None) and value == value
    }


STATED = {"stated": True, "not stated": False}
"""What a condition says in place of a value where it only matters whether there is one."""


def _condition(name: str, wanted: Any, described: Described, place: Any) -> Condition:
    """That a column is the value wanted, one of several, or stated at all."""
    if isinstance(wanted, str) and wanted in STATED:
        return Condition(name, (), f"{name} is {wanted}", STATED[wanted])
    texts = wanted if isinstance(wanted, Sequence) else [wanted]
    values = tuple(_number(text, described, place) for text in texts)
    return Condition(name, values, f"{name} is {' or '.join(texts)}")


FITTING = {
    "quantity": ("at_most", "at_least", "between", "one_of", "review"),
    "integer": ("at_most", "at_least", "between", "one_of", "review"),
    "date": ("before", "after", "review"),
    "boolean": ("one_of", "review"),
    "enumeration": ("one_of", "review"),
}
"""The comparisons that make sense for each kind of value."""


def _nature(described: Described) -> str:
    """What the value is, with its article; only values of one nature can be compared."""
    if described.kind in ("quantity", "integer"):
        return units.KINDS[described.measure].title
    if described.options:
        return f"one of {', '.join(described.options)}"
    return f"a {described.kind}"


MOST_SHARE, MOST_DIFFERENCE = 0.03, 0.5
"""The most that a method may be off, a share and K; beyond, it is the method that must change."""

REQUIRED = ("title", "subject", "value", "severity", "from", "why", "remedy", "limits")
"""The keys that every rule has; one that overrides limits of another takes the rest from that."""

T = TypeVar("T")
Word = TypeVar("Word", bound=str)


class _RuleFile:
    """One rule file on its way to a rule; `problems` are all its mistakes.

    before: the rule that it overrides; misfits: what does not fit the schema; own: whether it is a
    firm's.
    """

    def __init__(
        self,
        loader: _Loader,
        shown: str,
        mapping: Mapping,
        before: Rule | None,
        misfits: list[_Misfit],
        *,
        own: bool,
    ) -> None:
        self.loader = loader
        self.shown = shown
        self.mapping = mapping
        self.before = before
        self.misfits = misfits
        self.own = own
        self.problems = [misfit.problem for misfit in misfits]
        self.subject = ""
        self.described = Described("quantity")
        self.compared = ""

    def place(self, holder: Any, key: Any) -> Any:
        if isinstance(holder, Mapping):
            return holder.places[key][1] if key in holder.places else holder.place
        return holder.places[key]

    def part(self, path: tuple[str | int, ...], make: Callable[[], T], otherwise: T) -> T:
        """What `make` gives, or the other and a problem noted; the other where it misfits."""
        lacking = path[0] in REQUIRED and path[0] not in self.mapping and self.before is None
        if lacking or not _sound(self.misfits, *path):
            return otherwise
        return self.noted(make, otherwise)

    def noted(self, make: Callable[[], T], otherwise: T) -> T:
        """What `make` gives, or the other and a problem noted."""
        try:
            return make()
        except Problem as problem:
            self.problems.append(problem)
            return otherwise

    def text(self, key: str, otherwise: str) -> str:
        """A text of the file, else that of the rule it overrides."""
        return self.part((key,), lambda: str(self.mapping.get(key, otherwise)).strip(), otherwise)

    def items(self, key: str) -> Iterator[tuple[int, Any, Place]]:
        """The parts of a list, with their numbers and places."""
        nodes = self.mapping.get(key)
        if isinstance(nodes, Sequence):
            yield from zip(range(len(nodes)), nodes, nodes.places, strict=True)

    def rule(self, name: str, topic: str) -> Rule | None:
        """The rule; None where there are mistakes in it."""
        mapping, before = self.mapping, self.before
        if before is None and not self.misfits:
            for key in REQUIRED:
                if key not in mapping:
                    raise Problem(f"The key '{key}' is missing; a rule has one.", mapping.place)
        self.subject = self.part(
            ("subject",),
            lambda: self.one_of(
                "subject", self.loader.vocabulary.subjects(), before.subject if before else ""
            ),
            "",
        )
        if not self.subject:
            return None
        value = self.part(("value",), self.value, "")
        severity = self.part(
            ("severity",),
            lambda: self.one_of("severity", SEVERITIES, before.severity if before else ""),
            SEVERITIES[0],
        )
        nothing: tuple[Condition, ...] = before.applies if before else ()
        applies = self.part(
            ("applies",),
            lambda: self.conditions(mapping.get("applies"), mapping, "applies") or nothing,
            nothing,
        )
        limits: list[RuleLimit] = []
        for number, node, place in self.items("limits") if value else ():
            none: list[RuleLimit] = []
            found = self.part(("limits", number), partial(self.limits, node, place, severity), none)
            self.noted(partial(self.one_id_each, limits, found, place), None)
            limits += found
        examples = [
            self.part(("examples", number), partial(self.example, node, place), None)
            for number, node, place in self.items("examples")
        ]
        rule = Rule(
            id=name,
            title=self.text("title", before.title if before else ""),
            subject=self.subject,
            value=value,
            described=self.described,
            severity=severity,
            stage=self.part(
                ("from",),
                lambda: self.one_of("from", STAGES, before.stage if before else ""),
                STAGES[0],
            ),
            applies=applies,
            limits=tuple(limits),
            at=self.part(("at",), lambda: self.field_shown(value), ""),
            found=self.part(("found",), lambda: self.template("found"), ""),
            why=self.text("why", before.why if before else ""),
            remedy=self.text("remedy", before.remedy if before else ""),
            caution=self.part(("caution",), self.caution, ""),
            of_remedy=self.part(("caution_where",), self.of_remedy, False),
            examples=tuple(example for example in examples if example is not None),
            topic=before.topic if before else topic,
            path=self.shown,
            line=1,
            waivable=self.part(
                ("waivable",), lambda: self.one_of("waivable", ("yes", "no"), "no") == "yes", False
            ),
            uncertainty=self.part(
                ("uncertainty",),
                lambda: self.uncertainty({severity, *(limit.severity for limit in limits)}),
                None,
            ),
            under=self.text("under", before.under if before else ""),
            changes=self.part(("changes",), self.named_changes, ()),
            raised_by=self.part(("raised_by",), self.raised_by, ()),
        )
        return None if self.problems else rule

    def uncertainty(self, severities: set[str]) -> Uncertainty | None:
        """How far off the rule's method may be; raises Problem where it may not be that much."""
        node = self.mapping.get("uncertainty")
        if node is None:
            return self.before.uncertainty if self.before else None
        place = self.place(self.mapping, "uncertainty")
        if SEVERITIES[0] in severities:
            raise Problem("uncertainty: what can hurt is never let pass as minor.", place)
        text = str(node["within"])
        number, _, unit = text.partition(" ")
        try:
            amount = float(number)
        except ValueError:
            unit = ""
        if unit not in ("%", "K"):
            raise Problem(f"uncertainty: '{text}' is neither a share, '3 %', nor kelvin.", place)
        share, difference = (amount / 100, 0.0) if unit == "%" else (0.0, amount)
        if share > MOST_SHARE * (1 + 1e-9) or difference > MOST_DIFFERENCE * (1 + 1e-9):
            raise Problem("uncertainty: at most 3 % or 0.5 K; correct the method instead.", place)
        document = self.document(node["source"], self.place(node, "source"))
        assert document is not None
        return Uncertainty(share, difference, text, self.source(document.source, node))

    def range(self, place: Place) -> Range:
        """The range that the mapping states; raises Problem."""
        mapping = self.mapping
        self.subject = self.one_of("subject", self.loader.vocabulary.subjects())
        field = mapping["field"]
        described = self.describe(field, self.place(mapping, "field"))
        if described.kind != "quantity":
            raise Problem(f"'{field}' is {_nature(described)}, which has no range.", place)
        least, most = (
            _number(mapping[key], described, self.place(mapping, key)) for key in ("least", "most")
        )
        if least > most:
            raise Problem("The least is above the most.", self.place(mapping, "least"))
        document = self.document(mapping["source"], self.place(mapping, "source"))
        assert document is not None
        return Range(
            self.subject,
            field,
            described,
            self.conditions(mapping.get("when"), mapping, "when"),
            least,
            most,
            self.source(document.source, mapping),
        )

    def tolerance(self, place: Place) -> Tolerance:
        """The tolerance that the mapping states; raises Problem."""
        mapping = self.mapping
        self.subject = self.one_of("subject", self.loader.vocabulary.subjects())
        described = self.describe(mapping["field"], self.place(mapping, "field"))
        if described.kind != "quantity" or ("within" in mapping) == ("share" in mapping):
            raise Problem(f"{mapping['name']}: give 'within' or 'share' of a quantity.", place)
        within = share = float("nan")
        if "within" in mapping:
            within = _difference(mapping["within"], described, self.place(mapping, "within"))
        else:
            fraction = Described("quantity", measure="fraction")
            share = _number(mapping["share"], fraction, self.place(mapping, "share"))
        document = self.document(mapping["source"], self.place(mapping, "source"))
        assert document is not None
        return Tolerance(
            mapping["name"],
            mapping["title"],
            self.subject,
            mapping["field"],
            mapping.get("nearest") == "yes",
            within,
            share,
            self.source(document.source, mapping),
        )

    def lever(self, name: str) -> Lever:
        """The change that the mapping states; raises Problem."""
        mapping = self.mapping
        self.subject = self.one_of("of", self.loader.vocabulary.subjects())
        field = mapping.get("field", "")
        described = self.describe(field, self.place(mapping, "field")) if field else None
        if described is None and "how" not in mapping:
            raise Problem(f"{name}: state a 'field' that is changed, or 'how'.", mapping.place)
        imperial = mapping.get("imperial")
        steps = self.steps(mapping, described)
        return Lever(
            name,
            mapping["title"],
            self.subject,
            field,
            described,
            mapping.get("nearest") == "yes",
            steps,
            replace(steps, **_given(self.steps(imperial, described))) if imperial else None,
            mapping.get("way", ""),
            mapping.get("along", ""),
            self.one_of("until", STAGES),
            tuple(mapping.get("unless", ())),
            mapping.get("how", ""),
            mapping["confirm"],
            tuple(
                _difference(text, described or Described("quantity"), place)
                for text, place in self.habit()
            ),
            tuple(text for text, _ in self.habit()),
        )

    def habit(self) -> list[tuple[str, Place]]:
        """The moves that are tried in all designs, as written."""
        node = self.mapping.get("habit")
        return [] if node is None else [*zip(node, node.places, strict=True)]

    def steps(self, node: Mapping, described: Described | None) -> Steps:
        """What can be laid or set; raises Problem."""
        found: dict[str, Any] = {}
        described = described or Described("quantity")
        for key in ("by", "fine", "within"):
            if key in node:
                found[key] = _difference(node[key], described, self.place(node, key))
        if "least" in node:
            found["least"] = _number(node["least"], described, self.place(node, "least"))
        if "values" in node:
            places = node["values"].places
            found["values"] = tuple(
                _number(text, described, place)
                for text, place in zip(node["values"], places, strict=True)
            )
        if "sizes" in node:
            measure = SIZES.get(self.mapping.get("how", ""), "length")
            of = Described("quantity", measure=measure)
            found["sizes"] = tuple(
                tuple(_number(text, of, self.place(node, "sizes")) for text in pair)
                for pair in node["sizes"]
            )
        return Steps(**found)

    def named_changes(self) -> tuple[str, ...]:
        """The changes that the rule names; else those of the rule that it overrides."""
        if "changes" not in self.mapping:
            return self.before.changes if self.before else ()
        known = self.loader.levers
        for number, name, place in self.items("changes"):
            if name not in known:
                raise Problem(
                    f"changes[{number + 1}]: there is no change '{name}'; {choices(name, known)}",
                    place,
                )
        return tuple(self.mapping["changes"])

    def raised_by(self) -> tuple[str, ...]:
        """What only raises the value; else that of the rule that it overrides."""
        if "raised_by" not in self.mapping:
            return self.before.raised_by if self.before else ()
        for _, name, place in self.items("raised_by"):
            self.describe(name, place)
        return tuple(self.mapping["raised_by"])

    def value(self) -> str:
        """The name of what is compared; a rule that overrides limits compares the same."""
        before, mapping = self.before, self.mapping
        name = str(mapping.get("value", before.value if before else ""))
        place = self.place(mapping, "value")
        if before and (name, self.subject) != (before.value, before.subject):
            raise Problem(
                f"'{before.id}' is a rule of the program and judges '{before.value}' of each "
                f"{before.subject}, not '{name}' of each {self.subject}; give your rule's file "
                "another name.",
                place,
            )
        self.described = self.describe(name, place)
        self.compared = name
        return name

    def one_of(self, key: str, known: Iterable[Word], default: str = "") -> Word:
        word = self.mapping.get(key, default)
        names = {str(name): name for name in known}
        if word not in names:
            raise Problem(
                f"{key}: '{word}' is not known; {choices(str(word), names)}",
                self.place(self.mapping, key),
            )
        return names[word]

    def describe(self, name: str, place: Any) -> Described:
        found = self.loader.vocabulary.describe(self.subject, name)
        if found is None:
            near = choices(name, self.loader.vocabulary.names(self.subject))
            raise Problem(
                f"'{name}' is neither a field nor a quantity of a {self.subject}; {near}", place
            )
        return found

    def caution(self) -> str:
        """The caution that the rule names, in words; empty where it names none."""
        if "caution" not in self.mapping:
            return self.before.caution if self.before else ""
        return self.caution_of(self.mapping)

    def of_remedy(self) -> bool:
        """Whether the caution is told only where something was found."""
        if "caution_where" not in self.mapping:
            return self.before.of_remedy if self.before else False
        return self.one_of("caution_where", ("applies", "found")) == "found"

    def caution_of(self, node: Mapping) -> str:
        """The caution that a part of the rule names, in words; empty where it names none."""
        name, known = node.get("caution"), self.loader.cautions
        if name is not None and name not in known:
            words = f"'{name}' is not known; {choices(name, known)}"
            raise Problem(words, self.place(node, "caution"))
        return known[name] if name is not None else ""

    def field_shown(self, value: str) -> str:
        """The field that a finding points at: `at`, else the value where it is a field."""
        at = self.mapping.get("at")
        if at is not None:
            self.describe(at, self.place(self.mapping, "at"))
            return str(at)
        return self.before.at if self.before else value

    def template(self, key: str) -> str:
        text = self.mapping.get(key, self.before.found if self.before else "")
        bare = [(name, "", None) for name in ("value", "limit", "bound")]
        try:
            gaps = [tuple(gap) for _, *gap in Formatter().parse(text) if gap[0] is not None]
        except ValueError:
            gaps = [()]  # a brace without its other half
        if not {*gaps}.issubset(bare):
            raise Problem(
                f"{key}: only {{value}}, {{limit}} and {{bound}} can be filled in, as they stand.",
                self.place(self.mapping, key),
            )
        if gaps.count(bare[0]) > 1:
            words = f"{key}: {{value}} can stand in it once."
            raise Problem(words, self.place(self.mapping, key))
        return str(text).strip()

    def conditions(self, node: Any, holder: Any, key: Any) -> tuple[Condition, ...]:
        if node is None:
            return ()
        if not isinstance(node, Mapping):
            raise Problem("Write conditions as 'field: value'.", self.place(holder, key))
        found = []
        for name, wanted in node.items():
            place = node.places[name][1]
            found.append(_condition(name, wanted, self.describe(name, place), place))
        return tuple(found)

    def limits(self, node: Any, place: Place, severity: str) -> list[RuleLimit]:
        if not isinstance(node, Mapping):
            raise Problem("A limit is a mapping such as 'at_most: 100 m'.", place)
        named = [key for key in COMPARISONS if key in node]
        if len(named) != 1:
            raise Problem(f"A limit has one of {', '.join(COMPARISONS)}.", place)
        comparison = named[0]
        fitting = FITTING[self.described.kind]
        if comparison not in fitting:
            raise Problem(
                f"'{comparison}' does not fit '{self.compared}', which is "
                f"{_nature(self.described)}; write one of {', '.join(fitting)}.",
                self.place(node, comparison),
            )
        review = node["review"].strip() if comparison == "review" else ""
        for name in REVIEW_GAP.findall(review):
            self.describe(name, self.place(node, "review"))
        strict = node.get("strict", "no") == "yes"
        if strict and comparison not in STRICTLY:
            raise Problem(
                f"'strict' goes with {' or '.join(STRICTLY)} alone.", self.place(node, "strict")
            )
        before = len(self.problems)
        no_bounds: tuple[Bound, ...] = ()
        bounds = (
            no_bounds if review else self.noted(lambda: self.bounds(node, comparison), no_bounds)
        )
        no_conditions: tuple[Condition, ...] = ()
        when = self.noted(lambda: self.conditions(node.get("when"), node, "when"), no_conditions)
        about = node.get("scope") or Mapping(START)
        scope = self.noted(
            lambda: self.loader.scope(about, self.place(node, "scope")), no_conditions
        )
        if "source" not in node:
            raise Problem("The limit names no source; every limit has one.", place)
        sources = node["source"] if isinstance(node["source"], Sequence) else [node["source"]]
        if "severity" in node and node["severity"] not in SEVERITIES:
            raise Problem(
                f"'{node['severity']}' is not known; {choices(node['severity'], SEVERITIES)}",
                self.place(node, "severity"),
            )
        caution = self.noted(lambda: self.caution_of(node), "")
        place = self.place(node, "source")
        documents = {
            name: self.noted(partial(self.document, name, place), None) for name in sources
        }
        if len(self.problems) > before:
            return []
        found = []
        for name, document in documents.items():
            assert document is not None
            found.append(
                RuleLimit(
                    id=node.get("id", name) if len(sources) == 1 else f"{node.get('id', '')}{name}",
                    comparison=comparison,
                    bounds=bounds,
                    when=when,
                    document=replace(document, scope=document.scope + scope),
                    source=self.source(document.source, node),
                    group=document.code or self.loader.group,
                    severity=node.get("severity", severity),
                    fallback=node.get("fallback", "no") == "yes",
                    strict=strict,
                    caution=caution,
                    review=review,
                    words=REVIEW_GAP.sub(r"\1", review)
                    or f"{_compares(comparison, strict)} {_in_words(node[comparison])}",
                )
            )
        return found

    def document(self, name: str, place: Place) -> Document | None:
        document = self.loader.document(name)
        if document is None:
            near = choices(name, self.loader.documents)
            raise Problem(f"There is no source '{name}'; {near}", place)
        return document

    def source(self, source: Source, node: Mapping) -> Source:
        changes = {key: node[key] for key in ("clause", "seen") if key in node}
        return replace(source, **changes, **({"own": True} if self.own else {}))

    @staticmethod
    def one_id_each(before: list[RuleLimit], more: list[RuleLimit], place: Place) -> None:
        """Two limits with one id could not be told apart by a rule that overrides one of them."""
        known = {limit.id for limit in before}
        for limit in more:
            if limit.id in known:
                raise Problem(f"Two limits have the id '{limit.id}'; give this one an 'id'.", place)

    def bounds(self, node: Mapping, comparison: str) -> tuple[Bound, ...]:
        raw = node[comparison]
        place = self.place(node, comparison)
        if comparison == "between" and not (isinstance(raw, Sequence) and len(raw) == 2):
            raise Problem("between: write two values, '[4 bar, 6 bar]'.", place)
        many = raw if isinstance(raw, Sequence) else [raw]
        found = tuple(self.bound(one, place) for one in many)
        if any(bound.name == self.compared for bound in found):
            raise Problem(
                f"The limit is '{self.compared}', the value itself, which always keeps it; write "
                "a value or another name.",
                place,
            )
        low, high = (found[0].number, found[-1].number)
        if comparison == "between" and low is not None and high is not None and low > high:
            raise Problem(
                f"between: the first value is above the second, so nothing lies between them; "
                f"write '[{raw[1]}, {raw[0]}]'.",
                place,
            )
        return found

    def bound(self, raw: Any, place: Any) -> Bound:
        if isinstance(raw, Mapping):
            return Bound(table=self.table(raw, place))
        if not isinstance(raw, str):
            raise Problem("A value, a name or a table of steps is wanted here.", place)
        described = self.loader.vocabulary.describe(self.subject, raw)
        if described is not None:
            if _nature(described) != _nature(self.described):
                raise Problem(
                    f"'{raw}' is {_nature(described)}; it cannot be compared with "
                    f"'{self.compared}', which is {_nature(self.described)}.",
                    place,
                )
            return Bound(name=raw)
        if self.described.kind == "quantity" and raw[:1].isalpha():
            near = choices(raw, self.loader.vocabulary.names(self.subject))
            raise Problem(f"'{raw}' is neither a value nor the name of one; {near}", place)
        return Bound(number=_number(raw, self.described, place))

    def table(self, raw: Mapping, place: Any) -> Table:
        exact = "steps" in raw
        rows = raw.get("steps" if exact else "from")
        if "by" not in raw or not isinstance(rows, Mapping):
            raise Problem("A table has 'by: field' and 'steps:' or 'from:'.", place)
        described = self.describe(raw["by"], self.place(raw, "by"))
        pairs = sorted(
            (
                _number(key, described, rows.places[key][0]),
                _number(value, self.described, rows.places[key][1]),
            )
            for key, value in rows.items()
        )
        words = (
            f"{raw['by']} is not in the table ({', '.join(rows)})"
            if exact
            else f"{raw['by']} is below the table (from {next(iter(rows))})"
        )
        return Table(
            raw["by"], tuple(k for k, _ in pairs), tuple(v for _, v in pairs), exact, words
        )

    def example(self, node: Mapping, place: Place) -> Example | None:
        values = []
        for name, text in node.items():
            if name in ("gives", "codes", "on"):
                continue
            described = self.describe(name, node.places[name][0])
            _number(text, described, node.places[name][1])
            values.append((name, text))
        codes = node.get("codes")
        return Example(
            tuple(values),
            node["gives"],
            None if codes is None else tuple(codes),
            _day(node.get("on"), place),
            line_of(place),
        )


STRICTLY = {"at_most": "less than", "at_least": "more than"}
"""How a limit reads that a value equal to it does not keep."""


def _compares(comparison: str, strict: bool) -> str:
    """A comparison in words."""
    return STRICTLY[comparison] if strict else comparison.replace("_", " ")


def _in_words(raw: Any) -> str:
    """A limit's values as the rule's file writes them."""
    if isinstance(raw, Sequence):
        return " and ".join(_in_words(one) for one in raw)
    if not isinstance(raw, Mapping):
        return str(raw)
    exact = "steps" in raw
    rows = raw["steps" if exact else "from"]
    steps = ", ".join(f"{key if exact else f'from {key}'}: {value}" for key, value in rows.items())
    return f"by {raw['by']} ({steps})"
