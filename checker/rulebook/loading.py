"""Rule files to rules: every name, unit and source in them checked, with file and line."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from datetime import date
from functools import cache
from math import isfinite
from pathlib import Path
from typing import Any

from msgspec.structs import replace

from checker import reading, units
from checker.places import data_folder
from checker.reading import START, Mapping, Problem, Sequence, line_of
from checker.results import SEVERITIES, Source
from checker.rulebook.model import (
    GENERAL,
    REVIEW_GAP,
    Bound,
    Code,
    Condition,
    Described,
    Document,
    Example,
    Rule,
    Rulebook,
    RuleLimit,
    Table,
    Vocabulary,
)
from checker.wording import choices

COMPARISONS = ("at_most", "at_least", "between", "one_of", "before", "after", "review")
BOOLEANS = {"true": 1.0, "yes": 1.0, "false": 0.0, "no": 0.0}
SOURCES = "sources.yaml"


class BadRules(Exception):
    """Rule files that cannot be used: (path, problem) for each mistake."""

    def __init__(self, problems: list[tuple[str, Problem]]) -> None:
        path, problem = problems[0]
        super().__init__(f"{path}:{problem.line}:{problem.column}: {problem.message}")
        self.problems = problems


def load(vocabulary: Vocabulary, folders: Iterable[Path] = ()) -> Rulebook:
    """The program's own rules and those of a firm's folders or files, later ones over earlier.

    Raises BadRules for a file that is not a rule.
    """
    own = data_folder("rules")
    loader = _Loader(vocabulary)
    loader.folder(own, strict=False)
    for folder in folders:
        loader.folder(folder, strict=True)
    return loader.finish()


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

    def folder(self, folder: Path, *, strict: bool) -> None:
        """Take a folder of rule files, or a single one.

        strict: hold each file to its published schema first; the program's own files are held
        to it by the tests.
        """
        if folder.is_dir():
            files = sorted(p for p in folder.rglob("*.yaml") if p.name not in NOT_RULES)
            sources = [p for p in files if p.name == SOURCES]
            files = sources + [p for p in files if p.name != SOURCES]
            root = folder
        else:
            files, root = [folder], folder.parent
        if not files:
            self.problems.append((str(folder), Problem("There is no rule file (*.yaml) here.")))
        for path in files:
            shown = str(path) if strict else f"rules/{path.relative_to(root).as_posix()}"
            try:
                data = path.read_bytes()
                self.digest.update(path.relative_to(root).as_posix().encode() + b"\0")
                self.digest.update(data + b"\0")
                self.take(shown, path, data, strict=strict)
            except Problem as problem:
                self.problems.append((shown, problem))
            except OSError as error:
                words = f"The file cannot be read: {error.strerror}."
                self.problems.append((shown, Problem(words)))

    def take(self, shown: str, path: Path, data: bytes, *, strict: bool) -> None:
        is_sources = path.name == SOURCES
        first = "sources:" if is_sources else "title:"
        mapping = reading.read(data, first=first)
        if strict:
            _hold_to_schema("sources" if is_sources else "rule", mapping)
        if is_sources:
            self.take_sources(mapping)
            return
        rule = _RuleFile(self, shown, mapping).rule(path.stem, path.parent.name)
        before = self.rules.get(rule.id)
        self.rules[rule.id] = rule if before is None else _overridden(before, rule)

    def take_sources(self, mapping: Mapping) -> None:
        self.edition = mapping.get("edition", self.edition)
        for name, node in mapping.get("codes", {}).items():
            self.codes[name] = Code(name, node["title"], tuple(node.get("regions", ())))
        self.cautions.update(mapping.get("cautions", {}))
        sources = mapping.get("sources", Mapping(START))
        for name, node in sources.items():
            place = sources.places[name][0]
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
            self.documents[name] = Document(
                source, code, _day(force.get("from"), place), _day(force.get("to"), place)
            )

    def finish(self) -> Rulebook:
        if self.problems:
            raise BadRules(self.problems)
        rules = tuple(self.rules[name] for name in sorted(self.rules))
        digest = f"sha256:{self.digest.hexdigest()}"
        return Rulebook(rules, self.codes, self.documents, self.edition, digest)


NOT_RULES = frozenset(("complaints.yaml",))


def _overridden(before: Rule, after: Rule) -> Rule:
    """A firm's rule over ours: its limits replace those with the same id, or join them."""
    known = {limit.id: limit for limit in before.limits}
    for limit in after.limits:
        replaced = known.get(limit.id)
        if replaced is not None:
            instead = f"{replaced.source.id} {replaced.source.clause}".strip()
            limit = replace(limit, source=replace(limit.source, replaces=instead))
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


def _hold_to_schema(name: str, mapping: Mapping) -> None:
    from jsonschema.exceptions import best_match

    errors = list(_validator(name).iter_errors(mapping))
    # A mistyped key is also a missing one; the typo is what to tell.
    unknown = [error for error in errors if error.validator == "additionalProperties"]
    error = best_match(unknown) or best_match(errors)
    if error is None:
        return
    holder: Any = mapping
    place = mapping.place
    for step in error.absolute_path:
        found = holder.places[step]
        place = found[1] if isinstance(holder, Mapping) else found
        holder = holder[step]
    where = ".".join(
        str(step + 1) if isinstance(step, int) else step for step in error.absolute_path
    )
    words = error.message
    if error in unknown:
        known = error.schema["properties"]
        key = next(key for key in holder if key not in known)
        place = holder.places[key][0]
        words = f"the key '{key}' is not known here; {choices(key, known)}"
    elif error.validator == "required":
        missing = [key for key in error.validator_value if key not in holder]
        words = f"the key '{missing[0]}' is missing here"
    elif error.validator == "enum":
        words = f"'{holder}' is not known here; {choices(str(holder), error.validator_value)}"
    elif holder is None:
        words = "there is no value here; write one, or leave the key out"
    raise Problem(f"{where + ': ' if where else ''}{words}", place)


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


class _RuleFile:
    """One rule file on its way to a rule."""

    def __init__(self, loader: _Loader, shown: str, mapping: Mapping) -> None:
        self.loader = loader
        self.shown = shown
        self.mapping = mapping
        self.subject = ""
        self.described = Described("quantity")

    def place(self, holder: Any, key: Any) -> Any:
        if isinstance(holder, Mapping):
            return holder.places[key][1] if key in holder.places else holder.place
        return holder.places[key]

    def rule(self, name: str, topic: str) -> Rule:
        mapping = self.mapping
        for key in ("title", "subject", "value", "severity", "limits", "why", "remedy"):
            if key not in mapping:
                raise Problem(f"The key '{key}' is missing; a rule has one.", mapping.place)
        self.subject = self.one_of("subject", self.loader.vocabulary.subjects())
        severity = self.one_of("severity", SEVERITIES)
        value = mapping["value"]
        self.described = self.describe(value, self.place(mapping, "value"))
        applies = self.conditions(mapping.get("applies"), mapping, "applies")
        limits = []
        for number, node in enumerate(mapping["limits"]):
            limits.extend(self.limits(number, node, mapping["limits"], severity))
            self.one_id_each(limits, mapping["limits"].places[number])
        return Rule(
            id=name,
            title=mapping["title"],
            subject=self.subject,
            value=value,
            described=self.described,
            severity=severity,
            stage=self.one_of("stage", ("design", "installed"), "design"),
            applies=applies,
            limits=tuple(limits),
            at=self.field_shown(value),
            found=self.template("found"),
            why=mapping["why"].strip(),
            remedy=mapping["remedy"].strip(),
            caution=self.caution(),
            examples=tuple(self.examples()),
            topic=topic,
            path=self.shown,
            line=1,
            waivable=self.one_of("waivable", ("yes", "no"), "no") == "yes",
        )

    def one_of(self, key: str, known: Iterable[str], default: str = "") -> str:
        word = self.mapping.get(key, default)
        names = list(known)
        if word not in names:
            raise Problem(
                f"{key}: '{word}' is not known; {choices(str(word), names)}",
                self.place(self.mapping, key),
            )
        return str(word)

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
            return ""
        return self.loader.cautions[self.one_of("caution", self.loader.cautions)]

    def field_shown(self, value: str) -> str:
        """The field that a finding points at: `at`, else the value where it is a field."""
        at = self.mapping.get("at")
        if at is not None:
            self.describe(at, self.place(self.mapping, "at"))
            return str(at)
        return value

    def template(self, key: str) -> str:
        text = self.mapping.get(key, "")
        try:
            text.format(value="", limit="")
        except (KeyError, IndexError, AttributeError, ValueError):
            raise Problem(
                f"{key}: only {{value}} and {{limit}} can be filled in.",
                self.place(self.mapping, key),
            ) from None
        return str(text).strip()

    def number(self, text: str, described: Described, place: Any) -> float:
        """A literal of the described kind, as the column holds it."""
        try:
            return literal(text, described)
        except ValueError as error:
            raise Problem(str(error), place) from None

    def conditions(self, node: Any, holder: Any, key: Any) -> tuple[Condition, ...]:
        if node is None:
            return ()
        if not isinstance(node, Mapping):
            raise Problem("Write conditions as 'field: value'.", self.place(holder, key))
        found = []
        for name, wanted in node.items():
            place = node.places[name][1]
            described = self.describe(name, place)
            texts = wanted if isinstance(wanted, Sequence) else [wanted]
            values = tuple(self.number(text, described, place) for text in texts)
            found.append(Condition(name, values, f"{name} is {' or '.join(texts)}"))
        return tuple(found)

    def limits(self, number: int, node: Any, holder: Sequence, severity: str) -> list[RuleLimit]:
        place = holder.places[number]
        if not isinstance(node, Mapping):
            raise Problem("A limit is a mapping such as 'at_most: 100 m'.", place)
        named = [key for key in COMPARISONS if key in node]
        if len(named) != 1:
            raise Problem(f"A limit has one of {', '.join(COMPARISONS)}.", place)
        comparison = named[0]
        fitting = FITTING[self.described.kind]
        if comparison not in fitting:
            raise Problem(
                f"'{comparison}' does not fit '{self.mapping['value']}', which is "
                f"{_nature(self.described)}; write one of {', '.join(fitting)}.",
                self.place(node, comparison),
            )
        review = node["review"].strip() if comparison == "review" else ""
        for name in REVIEW_GAP.findall(review):
            self.describe(name, self.place(node, "review"))
        bounds = () if review else self.bounds(node, comparison)
        if "source" not in node:
            raise Problem("The limit names no source; every limit has one.", place)
        sources = node["source"] if isinstance(node["source"], Sequence) else [node["source"]]
        if "severity" in node and node["severity"] not in SEVERITIES:
            raise Problem(
                f"'{node['severity']}' is not known; {choices(node['severity'], SEVERITIES)}",
                self.place(node, "severity"),
            )
        found = []
        for name in sources:
            document = self.loader.documents.get(name)
            if document is None:
                raise Problem(
                    f"There is no source '{name}'; {choices(name, self.loader.documents)}",
                    self.place(node, "source"),
                )
            found.append(
                RuleLimit(
                    id=node.get("id", name) if len(sources) == 1 else f"{node.get('id', '')}{name}",
                    comparison=comparison,
                    bounds=bounds,
                    when=self.conditions(node.get("when"), node, "when"),
                    document=document,
                    source=_with(document.source, node.get("clause"), node.get("seen")),
                    severity=node.get("severity", severity),
                    review=review,
                    words=REVIEW_GAP.sub(r"\1", review)
                    or f"{comparison.replace('_', ' ')} {_in_words(node[comparison])}",
                )
            )
        return found

    @staticmethod
    def one_id_each(limits: list[RuleLimit], place: Any) -> None:
        """Two limits with one id could not be told apart by a rule that overrides one of them."""
        ids = [limit.id for limit in limits]
        for name in ids:
            if ids.count(name) > 1:
                raise Problem(f"Two limits have the id '{name}'; give this one an 'id'.", place)

    def bounds(self, node: Mapping, comparison: str) -> tuple[Bound, ...]:
        raw = node[comparison]
        place = self.place(node, comparison)
        if comparison == "between" and not (isinstance(raw, Sequence) and len(raw) == 2):
            raise Problem("between: write two values, '[4 bar, 6 bar]'.", place)
        many = raw if isinstance(raw, Sequence) else [raw]
        return tuple(self.bound(one, place) for one in many)

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
                    f"'{self.mapping['value']}', which is {_nature(self.described)}.",
                    place,
                )
            return Bound(name=raw)
        if self.described.kind == "quantity" and raw[:1].isalpha():
            near = choices(raw, self.loader.vocabulary.names(self.subject))
            raise Problem(f"'{raw}' is neither a value nor the name of one; {near}", place)
        return Bound(number=self.number(raw, self.described, place))

    def table(self, raw: Mapping, place: Any) -> Table:
        exact = "steps" in raw
        rows = raw.get("steps" if exact else "from")
        if "by" not in raw or not isinstance(rows, Mapping):
            raise Problem("A table has 'by: field' and 'steps:' or 'from:'.", place)
        described = self.describe(raw["by"], self.place(raw, "by"))
        pairs = sorted(
            (
                self.number(key, described, rows.places[key][0]),
                self.number(value, self.described, rows.places[key][1]),
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

    def examples(self) -> Iterable[Example]:
        nodes = self.mapping.get("examples", ())
        for number, node in enumerate(nodes):
            place = nodes.places[number]
            values = []
            for name, text in node.items():
                if name in ("gives", "codes", "on"):
                    continue
                described = self.describe(name, node.places[name][0])
                self.number(text, described, node.places[name][1])
                values.append((name, text))
            codes = node.get("codes")
            yield Example(
                tuple(values),
                node["gives"],
                None if codes is None else tuple(codes),
                _day(node.get("on"), place),
                line_of(place),
            )


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


def _with(source: Source, clause: str | None, seen: str | None) -> Source:
    if clause is None and seen is None:
        return source
    changes: dict[str, str] = {}
    if clause is not None:
        changes["clause"] = clause
    if seen is not None:
        changes["seen"] = seen
    return replace(source, **changes)
