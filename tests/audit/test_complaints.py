"""The data file of complaints is whole: by its schema, and every name in it exists."""

from __future__ import annotations

import json

import pytest
import yaml
from jsonschema import Draft202012Validator

from checker.audit.complaints import FILE, complaints
from checker.audit.needed import ON_PAPER
from checker.audit.signs import SIGNS
from checker.cli.audit import parser
from checker.reading.package_data import data_folder
from checker.run import rules_in_force

KNOWN = complaints()


def test_the_file_is_by_its_schema() -> None:
    schema = json.loads((data_folder("schemas") / "complaints.schema.json").read_text("utf-8"))
    Draft202012Validator.check_schema(schema)
    document = yaml.safe_load((data_folder("rules") / FILE).read_text("utf-8"))
    Draft202012Validator(schema).validate(document)


def test_every_complaint_of_the_trade_is_there() -> None:
    assert set(KNOWN.trouble) == {
        "cold-room",
        "slow-room",
        "hot-floor",
        "uneven-floor",
        "noise",
        "pressure-falling",
        "cracked-screed",
        "damaged-covering",
        "mixing-trouble",
        "high-bills",
    }


@pytest.mark.parametrize("complaint", KNOWN.trouble)
def test_a_complaint_has_causes_to_choose_from(complaint: str) -> None:
    assert len(KNOWN.causes_of(complaint)) >= 3


@pytest.mark.parametrize("name", KNOWN.causes)
def test_every_name_of_a_cause_exists(name: str) -> None:
    cause = KNOWN.causes[name]
    book = rules_in_force.rulebook()
    rules = {rule.id for rule in book.rules}
    pieces = (*cause.supporting, *cause.against)
    assert {piece.rule for piece in pieces if piece.rule} <= rules
    assert {piece.sign for piece in pieces if piece.sign} <= set(KNOWN.signs)
    assert set(cause.next) <= set(KNOWN.measurements)
    assert set(cause.of) <= set(KNOWN.trouble)
    assert cause.source in book.documents
    minutes = [KNOWN.measurements[one].minutes for one in cause.next]
    assert minutes == sorted(minutes), "cheapest first"


def test_every_sign_can_be_seen_and_is_used() -> None:
    used = {p.sign for c in KNOWN.causes.values() for p in (*c.supporting, *c.against) if p.sign}
    assert used == set(KNOWN.signs)
    assert set(SIGNS) == set(KNOWN.signs)
    assert set(KNOWN.signs) >= ON_PAPER
    for sign in KNOWN.signs.values():
        assert sign.full > sign.least
        assert sign.measure in KNOWN.measurements


def test_every_tool_of_a_step_is_known_and_named_by_the_command() -> None:
    taken = {tool for m in KNOWN.measurements.values() for t in m.tools for tool in t.split(" or ")}
    assert taken == set(KNOWN.tools)
    words = " ".join(parser().format_help().split())
    assert all(tool in words for tool in KNOWN.tools)


def test_every_caution_of_a_measurement_is_worded() -> None:
    sources = yaml.safe_load((data_folder("rules") / "sources.yaml").read_text("utf-8"))
    cautions = {one.caution for one in KNOWN.measurements.values() if one.caution}
    assert cautions
    assert cautions <= set(sources["cautions"])


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        ("noise", "noise"),
        ("Pump screams", "noise"),
        ("room cold", "cold-room"),
        ("Room that does not get warm", "cold-room"),
        ("slow to warm", "slow-room"),
        ("bills too high", "high-bills"),
        ("pump noisy", "noise"),
        ("pressure drops", "pressure-falling"),
        ("screed cracked", "cracked-screed"),
        ("short-cycles", "mixing-trouble"),
        ("no such thing", None),
    ],
)
def test_a_complaint_is_known_by_its_words(text: str, complaint: str | None) -> None:
    assert KNOWN.named(text) == complaint


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("it smells", "pressure-falling"),
        ("Boiler goes on and off", "mixing-trouble"),
        ("the heat pump short-cycles", "mixing-trouble"),
        ("cold by the window", "cold-room"),
        ("The bathroom never gets warm!", "cold-room"),
        ("gauge keeps falling", "pressure-falling"),
        ("my bills are too high", "high-bills"),
        ("the study takes all day", "slow-room"),
        ("ROOM COLD", "cold-room"),
        ("cold-room", "cold-room"),
        ("cold spots and a leak", "uneven-floor"),
        # Two fit alike, or none: nobody guesses.
        ("it leaks and whistles", None),
        ("the colour is wrong", None),
        ("", None),
        ("the", None),
    ],
)
def test_people_s_own_words(said: str, meant: str | None) -> None:
    assert complaints().named(said) == meant
