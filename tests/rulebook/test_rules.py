"""The program's own rules: every file whole, every example true, every limit shown by one."""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

import checker.quantities  # noqa: F401  # registers the quantities
from checker.compute.meanings import Names
from checker.compute.registry import REGISTRY
from checker.outcome.results import KINDS, SEVERITIES
from checker.reading import yaml_reader
from checker.reading.package_data import data_folder
from checker.rulebook.examples import day_of, outcome, worked
from checker.rulebook.loading import CHANGES, NOT_RULES, RANGES, SOURCES, TOLERANCES, load
from checker.rulebook.model import Example, Rule
from checker.rulebook.outcomes import ABSENT, FAIL, OPEN, PASS

NAMES = Names()
BOOK = load(NAMES)
FILES = sorted(
    path
    for path in data_folder("rules").rglob("*.yaml")
    if path.name not in {SOURCES, RANGES, CHANGES, TOLERANCES, *NOT_RULES}
)
RULES = pytest.mark.parametrize("rule", BOOK.rules, ids=lambda rule: rule.id)

FIXED = (
    "loop-length",
    "loop-length-plausible",
    "loop-lengths-alike",
    "loop-bend",
    "loop-spacing",
    "loop-pressure-drop",
    "loop-flow-setting",
    "water-speed-low",
    "water-speed-high",
    "surface-temperature",
    "covering-temperature",
    "covering-resistance",
    "supply-temperature",
    "screed-temperature",
    "temperature-drop",
    "room-heat",
    "header-ports",
    "header-port-clash",
    "header-speed",
    "header-valves",
    "pump-duty",
    "test-pressure",
    "test-hold",
    "test-medium",
    "test-drop",
    "test-before-screed",
    "test-kept-on",
    "insulation",
    "floor-loss",
    "edge-strip",
    "screed-cover",
    "screed-field",
    "heat-up-start",
    "heat-up-steps",
    "pipe-class",
    "oxygen-barrier",
    "buried-joint",
    "wall-gap",
    "balance-recorded",
)


def validator(name: str) -> Draft202012Validator:
    schema = json.loads((data_folder("schemas") / f"{name}.schema.json").read_text("utf-8"))
    Draft202012Validator.check_schema(schema)
    return Draft202012Validator(schema)


RULE_SCHEMA = validator("rule")


def judged_by_review_alone(rule: Rule) -> bool:
    return all(limit.comparison == "review" for limit in rule.limits)


def given(values: dict[str, str], rule: Rule) -> Example:
    return Example(tuple(values.items()), "open", None, None, rule.line)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_rule_file_fits_its_schema(path: Path) -> None:
    errors = [
        error.message for error in RULE_SCHEMA.iter_errors(yaml_reader.read(path.read_bytes()))
    ]
    assert errors == []


def test_sources_fit_their_schema() -> None:
    sources = yaml_reader.read((data_folder("rules") / "sources.yaml").read_bytes())
    assert [error.message for error in validator("sources").iter_errors(sources)] == []


def test_ranges_fit_their_schema() -> None:
    ranges = yaml_reader.read((data_folder("rules") / RANGES).read_bytes())
    assert [error.message for error in validator("ranges").iter_errors(ranges)] == []
    assert all(one.least < one.most for one in BOOK.ranges)


@pytest.mark.parametrize("name", ["rule", "sources", "ranges", "design"])
def test_every_key_of_a_schema_is_described(name: str) -> None:
    undescribed: list[str] = []

    def walk(node: Any, where: str) -> None:
        if isinstance(node, dict):
            for key, member in node.get("properties", {}).items():
                if isinstance(member, dict) and not member.get("description"):
                    undescribed.append(f"{where}.{key}")
            for key, member in node.items():
                walk(member, f"{where}.{key}")

    walk(validator(name).schema, name)
    assert undescribed == []


def test_every_file_is_a_rule_of_its_name() -> None:
    assert sorted(path.stem for path in FILES) == [rule.id for rule in BOOK.rules]


def test_all_fixed_rules_are_there() -> None:
    assert set(FIXED) - {rule.id for rule in BOOK.rules} == set()


def test_every_source_is_used_and_every_code_has_one() -> None:
    used = {limit.document.source.id for rule in BOOK.rules for limit in rule.limits}
    used |= {one.source.id for one in BOOK.ranges}
    used |= {one.source.id for one in BOOK.tolerances}
    used |= {rule.uncertainty.source.id for rule in BOOK.rules if rule.uncertainty}
    assert set(BOOK.documents) == used
    assert {document.code for document in BOOK.documents.values()} - {""} == set(BOOK.codes)


def test_only_public_texts_claim_to_have_been_read() -> None:
    # No standard was read in a bought copy; see the head of sources.yaml.
    read = {name for name, d in BOOK.documents.items() if d.source.seen == "text"}
    assert read == {
        "gb-approved-document-l1-2021",
        "gb-approved-document-l2-2021",
        "irc-2018",
        "california-mechanical-code",
        "no-tek17",
        "dk-br18",
    }
    # Of these single clauses were read in copies of the text.
    read |= {"gb-50242-2002", "jgj-142-2004"}
    for rule in BOOK.rules:
        for limit in rule.limits:
            assert limit.source.seen != "text" or limit.document.source.id in read


@RULES
def test_examples_give_what_they_say(rule: Rule) -> None:
    wrong = [
        (example.line, example.values, example.gives, kind)
        for example, kind in worked(rule, BOOK, NAMES)
        if kind != example.gives
    ]
    assert wrong == []


@RULES
def test_examples_show_pass_fail_and_open(rule: Rule) -> None:
    kinds = {example.gives for example in rule.examples}
    wanted = {"review"} if judged_by_review_alone(rule) else {"pass", "fail", "open"}
    if any(one.stated and one.name == rule.value for one in rule.applies):
        wanted -= {"open"}
    assert wanted <= kinds


@RULES
def test_an_example_stands_exactly_at_a_limit(rule: Rule) -> None:
    if judged_by_review_alone(rule):
        assert rule.found == ""
        return
    at_limit = False
    for example in rule.examples:
        found = outcome(rule, example, BOOK, NAMES)
        for limit_outcome in found.limits:
            words = limit_outcome.limit.comparison == "one_of"
            border = any(
                bound[0] == pytest.approx(found.values[0], rel=1e-9)
                for bound in limit_outcome.bounds
            )
            at_its_equal = FAIL if limit_outcome.limit.strict else PASS
            at_limit |= limit_outcome.kinds[0] == at_its_equal and (words or border)
    assert at_limit


@RULES
def test_every_limit_is_worked_out_by_an_example(rule: Rule) -> None:
    shown = {
        limit_outcome.limit.id
        for example in rule.examples
        for limit_outcome in outcome(rule, example, BOOK, NAMES).limits
        if limit_outcome.kinds[0] not in (ABSENT, OPEN)
    }
    assert {limit.id for limit in rule.limits} - shown == set()


@RULES
def test_an_edition_is_shown_under_its_code_on_a_day_in_force(rule: Rule) -> None:
    for limit in rule.limits:
        code = limit.document.code
        if not code:
            continue
        fitting = [
            example
            for example in rule.examples
            if code in (BOOK.codes_of("") if example.codes is None else example.codes)
            and limit.document.in_force(day_of(example))[0]
        ]
        assert fitting, limit.id


@RULES
def test_nothing_given_never_passes_or_fails(rule: Rule) -> None:
    kind = outcome(rule, given({}, rule), BOOK, NAMES).kinds[0]
    assert KINDS[int(kind)] in ("open", "review", "notApplicable")


@RULES
def test_a_fail_is_told_in_words(rule: Rule) -> None:
    assert rule.severity in SEVERITIES
    assert rule.title
    assert rule.why.endswith(".")
    assert rule.remedy.endswith(".")
    if judged_by_review_alone(rule):
        return
    text = rule.found.format(value="88 m", limit="at most 100 m", bound="100 m")
    assert text.endswith(".")
    assert "{" not in text
    assert len(text) <= 160


@RULES
def test_memory_alone_never_holds_a_design(rule: Rule) -> None:
    # A limit from memory is at most minor, unless EN 1264 or the same code's other edition, or
    # another limit of the rule that is reported, asks for the same gravity.
    reported = [
        SEVERITIES.index(limit.severity) for limit in rule.limits if limit.source.seen != "memory"
    ]
    for limit in rule.limits:
        if limit.source.seen == "memory" and limit.severity in ("critical", "major"):
            assert min(reported) <= SEVERITIES.index(limit.severity), limit.id


@RULES
def test_work_under_pressure_carries_a_caution(rule: Rule) -> None:
    if rule.topic == "tests" and rule.id not in ("operating-pressure", "test-read-to-end"):
        assert rule.caution


@pytest.mark.parametrize(
    ("region", "codes"),
    [
        ("", ("EN-1264",)),
        ("AU", ("EN-1264", "AU")),
        ("JP", ("EN-1264",)),
        ("ZA", ("EN-1264", "ZA")),
        ("GB", ("EN-1264",)),
        ("GB-ENG", ("EN-1264", "GB-ENG")),
        ("GB-SCT", ("EN-1264", "GB-SCT")),
        ("DE", ("EN-1264", "DE")),
        ("DE-BY", ("EN-1264", "DE")),
        ("FR", ("EN-1264", "FR")),
        ("NO", ("EN-1264", "NO")),
        ("DK", ("EN-1264", "DK")),
        ("NZ", ("EN-1264", "NZ")),
        ("SE", ("EN-1264",)),
        ("US", ("US",)),
        ("US-TX", ("US",)),
        ("US-CA", ("US", "US-CA")),
        ("CA", ("CA",)),
        ("CA-ON", ("CA",)),
        ("CN", ("CN",)),
    ],
)
def test_a_region_picks_its_codes(region: str, codes: tuple[str, ...]) -> None:
    assert BOOK.codes_of(region) == codes


def test_editions_of_a_document_follow_one_another() -> None:
    for family in (
        "en-1264-2-",
        "en-1264-3-",
        "en-1264-4-",
        "din-18560-2-",
        "jgj-142-",
        "nf-dtu-65-14-",
        "nz-h1-as1-",
    ):
        editions = [d for name, d in sorted(BOOK.documents.items()) if name.startswith(family)]
        assert len(editions) >= 2
        assert editions[-1].end is None
        for older, newer in pairwise(editions):
            assert older.end == newer.start


@pytest.mark.parametrize("quantity", REGISTRY.values(), ids=lambda q: f"{q.subject}-{q.name}")
def test_every_quantity_has_a_source_and_says_what_it_is(quantity: Any) -> None:
    assert quantity.source
    assert quantity.title
    assert quantity.function.__doc__
    described = NAMES.describe(quantity.subject, quantity.name)
    assert described is not None
    assert described.unit == quantity.unit


def test_a_fail_governs_a_pass_of_another_code() -> None:
    # England takes 55 °C (Approved Document L, volume 1 (2021), 5.10), common practice 50 °C.
    rule = next(rule for rule in BOOK.rules if rule.id == "supply-temperature")
    example = Example((("supply_temperature", "52 °C"),), "fail", ("GB-ENG",), None, 1)
    found = outcome(rule, example, BOOK, NAMES)
    assert found.kinds[0] == FAIL
    assert found.limits[found.governing[0]].limit.source.id == "practice-water-temperature"
    assert found.limits[found.governing[0]].limit.severity == "minor"
