"""Rule files that cannot be used: each mistake named with file, line and what to write."""

from __future__ import annotations

from pathlib import Path

import pytest

import checker.quantities  # noqa: F401  # registers the quantities
from checker.compute.meanings import Names
from checker.rulebook.book import Rulebook
from checker.rulebook.loading import BadRules, load

NAMES = Names()

SOURCES = """\
edition: firm 7
codes: {FIRM: {title: The firm's own code}}
sources:
  firm-manual: {title: The firm's manual, standing: guidance, seen: text}
"""

RULE = """\
title: Loop longer than we lay
subject: loop
value: length
severity: minor
limits:
  - at_most: 90 m
    source: firm-manual
found: The loop is {value} long; {limit} is taken.
why: Coils are 100 m long.
remedy: Split the loop.
from: design
examples:
  - {length: 90 m, gives: pass}
"""


def loaded(folder: Path, *, rule: str = RULE, sources: str = SOURCES) -> Rulebook:
    (folder / "sources.yaml").write_text(sources, encoding="utf-8")
    (folder / "firm-length.yaml").write_text(rule, encoding="utf-8")
    return load(NAMES, [folder])


def changed(*changes: tuple[str, str]) -> str:
    text = RULE
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return text


def test_a_firms_rule_stands_beside_ours(tmp_path: Path) -> None:
    own = load(NAMES)
    book = loaded(tmp_path)
    assert {rule.id for rule in book.rules} == {rule.id for rule in own.rules} | {"firm-length"}
    assert book.edition == "firm 7"
    assert book.digest != own.digest
    assert "FIRM" in book.codes


def test_a_review_names_what_it_will_say(tmp_path: Path) -> None:
    book = loaded(tmp_path, rule=changed(("at_most: 90 m", "review: See how {length} was laid.")))
    limit = next(rule for rule in book.rules if rule.id == "firm-length").limits[0]
    assert limit.review == "See how {length} was laid."
    assert limit.words == "See how length was laid."


def test_a_single_file_is_taken(tmp_path: Path) -> None:
    path = tmp_path / "alone.yaml"
    path.write_text(changed(("firm-manual", "practice-loop-length")), encoding="utf-8")
    assert "alone" in {rule.id for rule in load(NAMES, [path]).rules}


def test_a_firms_rule_overrides_a_limit_of_ours_by_its_id(tmp_path: Path) -> None:
    (tmp_path / "sources.yaml").write_text(SOURCES, encoding="utf-8")
    (tmp_path / "loop-length.yaml").write_text(
        changed(("source: firm-manual", "source: firm-manual\n    id: practice-loop-length")),
        encoding="utf-8",
    )
    own = next(rule for rule in load(NAMES).rules if rule.id == "loop-length")
    rule = next(rule for rule in load(NAMES, [tmp_path]).rules if rule.id == "loop-length")
    assert [limit.id for limit in rule.limits] == [limit.id for limit in own.limits]
    limit = next(limit for limit in rule.limits if limit.id == "practice-loop-length")
    assert limit.source.id == "firm-manual"
    assert limit.source.replaces == "practice-loop-length"
    assert limit.bounds[0].number == 90.0


@pytest.mark.parametrize(
    ("change", "line", "words"),
    [
        (("severity: minor", "severty: minor"), 4, "did you mean 'severity'"),
        (("    source: firm-manual", "    sorce: firm-manual"), 7, "did you mean 'source'"),
        (("value: length", "value: lenght"), 3, "did you mean 'length'"),
        (("value: length", "value: pipe.lenght"), 3, "neither a field nor a quantity"),
        (("subject: loop", "subject: lop"), 2, "did you mean 'loop'"),
        (("severity: minor", "severity: grave"), 4, "write one of 'critical', 'major'"),
        (("90 m\n    s", "90 kg\n    s"), 6, "a length is expected"),
        (("90 m\n    s", "90\n    s"), 6, "90 has no unit; write '90 m'"),
        (("90 m\n    s", "pipe.max_lenght\n    s"), 6, "neither a value nor the name of one"),
        (("90 m\n    s", "pipe.outside_x\n    s"), 6, "neither a value nor the name of one"),
        (("at_most: 90 m", "review: See {lenght}."), 6, "did you mean 'length'"),
        (("90 m\n    s", "velocity\n    s"), 6, "cannot be compared with 'length'"),
        (("at_most: 90 m", "at_mots: 90 m"), 6, "did you mean 'at_most'"),
        (("at_most: 90 m", "before: 2026-01-01"), 6, "does not fit 'length'"),
        (("at_most: 90 m", "between: [90 m]"), 6, "too short"),
        (("at_most: 90 m", "when: {zone: occupied}"), 6, "one of at_most, at_least"),
        (("at_most: 90 m", "at_most: 90 m\n    at_least: 1 m"), 6, "one of at_most, at_least"),
        (
            ("at_most: 90 m", "when: {zone: middle}\n    at_most: 90 m"),
            6,
            "'occupied', 'perimeter'",
        ),
        (("at_most: 90 m", "when: {zome: occupied}\n    at_most: 90 m"), 6, "did you mean 'zone'"),
        (
            ("at_most: 90 m", "when: occupied\n    at_most: 90 m"),
            6,
            "this is 'occupied'; write a mapping",
        ),
        (("90 m\n", "{by: pipe.outside, step: {16 mm: 90 m}}\n"), 6, "did you mean 'steps'"),
        (("90 m\n", "{by: pipe.outside}\n"), 6, "'steps:' or 'from:'"),
        (("90 m\n", "{steps: {16 mm: 90 m}}\n"), 6, "the key 'by' is missing"),
        (("90 m\n", "{by: pipe.outsde, steps: {16 mm: 90 m}}\n"), 6, "neither a field"),
        (("90 m\n", "{by: pipe.outside, steps: {16: 90 m}}\n"), 6, "16 has no unit"),
        (("90 m\n", "{by: pipe.outside, steps: {16 mm: 90}}\n"), 6, "90 has no unit"),
        (("\n    source: firm-manual", ""), 6, "the key 'source' is missing"),
        (("source: firm-manual", "source: firm-manul"), 7, "did you mean 'firm-manual'"),
        (("source: firm-manual", "source: [firm-manual, firm-manual]"), 7, "non-unique"),
        (
            ("firm-manual", "firm-manual\n  - at_most: 80 m\n    source: firm-manual"),
            8,
            "give this one an 'id'",
        ),
        (("{value} long", "{length} long"), 8, "only {value}, {limit} and {bound}"),
        (("{value} long", "{value.unit} long"), 8, "only {value}, {limit} and {bound}"),
        (("{value} long", "{} long"), 8, "only {value}, {limit} and {bound}"),
        (("{value} long", "{value long"), 8, "only {value}, {limit} and {bound}"),
        (("{value} long", "{value} or {value}"), 8, "{value} can be used in it once"),
        (("{value} long", "{value:>9} long"), 8, "{bound} can be filled in, without a format"),
        (("{value} long", "{value!r} long"), 8, "{bound} can be filled in, without a format"),
        (("{value} long", "{value.upper} long"), 8, "{bound} can be filled in, without a format"),
        (("why: Coils are 100 m long.", "value: length"), 9, "is here twice, first in line 3"),
        (("why: Coils are 100 m long.\n", ""), 1, "the key 'why' is missing"),
        (("{length: 90 m, gives: pass}", "{lenth: 90 m, gives: pass}"), 13, "'length'"),
        (("{length: 90 m, gives: pass}", "{length: 90, gives: pass}"), 13, "write '90 m'"),
        (("{length: 90 m, gives: pass}", "{length: 90 m, gives: ok}"), 13, "write one of 'pass'"),
        (
            ("{length: 90 m, gives: pass}", "{length: 90 m, gives: pass, on: 2026-02-30}"),
            13,
            "not a date",
        ),
        (("why: Coils are 100 m long.", "why: Coils: 100 m."), 9, "quotes"),
        (("why: Coils are 100 m long.", "why: !!str Coils."), 9, "tag"),
        (("why: Coils are 100 m long.", "why:"), 9, "there is no value here"),
        (("why: Coils are 100 m long.", "why: Coils.\nat: lenth"), 10, "did you mean 'length'"),
        (
            ("why: Coils are 100 m long.", "why: Coils.\nstage: build"),
            10,
            "the key 'stage' is not known here",
        ),
        (("from: design", "from: build"), 11, "write one of 'design', 'laid'"),
        (("from: design\n", ""), 1, "the key 'from' is missing"),
        (("value: length", "value: pattern"), 6, "does not fit 'pattern'"),
        (("value: length", "value: joints"), 6, "'90 m' is not a whole number"),
        (("value: length", "value: port_sharers"), 6, "'90 m' is not a plain number"),
    ],
)
def test_a_mistake_in_a_rule_is_named(
    tmp_path: Path, change: tuple[str, str], line: int, words: str
) -> None:
    with pytest.raises(BadRules) as caught:
        loaded(tmp_path, rule=changed(change))
    ((path, problem),) = caught.value.problems
    assert path == str(tmp_path / "firm-length.yaml")
    assert words in problem.message
    assert problem.line == line
    assert f"{path}:{line}:" in str(caught.value)


@pytest.mark.parametrize("text", ["", "# nothing\n", "- a list\n", "just words\n"])
def test_a_file_that_is_no_mapping_is_named(tmp_path: Path, text: str) -> None:
    with pytest.raises(BadRules) as caught:
        loaded(tmp_path, rule=text)
    assert "starting with 'title:'" in str(caught.value) or "start with 'title:'" in str(
        caught.value
    )


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        (SOURCES.replace("standing: guidance, ", ""), 4, "the key 'standing' is missing"),
        (SOURCES.replace("standing: guidance", "standing: law"), 4, "'common practice'"),
        (SOURCES.replace("seen: text", "sen: text"), 4, "did you mean 'seen'"),
        (SOURCES.replace("seen: text", "seen: text, code: FRIM"), 4, "did you mean 'FIRM'"),
        (
            SOURCES.replace("seen: text", "seen: text, in_force: {from: 2026-13-01}"),
            4,
            "not a date",
        ),
        (SOURCES.replace("seen: text", "seen: text, in_force: {from: May}"), 4, "May"),
        (SOURCES.replace("own code}", "own code, regions: [england]}"), 2, "england"),
    ],
)
def test_a_mistake_in_the_sources_is_named(
    tmp_path: Path, text: str, line: int, words: str
) -> None:
    with pytest.raises(BadRules) as caught:
        loaded(tmp_path, sources=text)
    path, problem = caught.value.problems[0]
    assert path == str(tmp_path / "sources.yaml")
    assert words in problem.message
    assert problem.line == line


def test_all_bad_files_are_named_at_once(tmp_path: Path) -> None:
    (tmp_path / "another.yaml").write_text("title: x\n", encoding="utf-8")
    with pytest.raises(BadRules) as caught:
        loaded(tmp_path, rule=changed(("value: length", "value: lenght")))
    assert [Path(path).name for path, _ in caught.value.problems] == [
        "another.yaml",
        "firm-length.yaml",
    ]


def test_a_folder_without_rules_is_named(tmp_path: Path) -> None:
    with pytest.raises(BadRules, match="no rule file"):
        load(NAMES, [tmp_path])


def test_a_path_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(BadRules, match="cannot be read"):
        load(NAMES, [tmp_path / "nowhere.yaml"])


def test_integers_and_counted_quantities_can_be_compared(tmp_path: Path) -> None:
    text = changed(("subject: loop", "subject: header"), ("value: length", "value: loop_count"))
    book = loaded(
        tmp_path, rule=text.replace("90 m", "ports", 1).replace("length: 90 m", "ports: 8")
    )
    rule = next(rule for rule in book.rules if rule.id == "firm-length")
    assert rule.limits[0].bounds[0].name == "ports"


def test_the_digest_tells_rules_apart(tmp_path: Path) -> None:
    first = loaded(tmp_path).digest
    assert loaded(tmp_path).digest == first
    assert loaded(tmp_path, rule=changed(("90 m\n", "91 m\n"))).digest != first


WEAKER = """\
severity: observation
from: installed
waivable: yes
applies: {zone: perimeter}
limits:
  - {id: practice-loop-length, at_most: 500 m, source: firm-manual, severity: minor, fallback: yes}
"""


def test_every_way_in_which_a_pack_alters_ours_is_named(tmp_path: Path) -> None:
    (tmp_path / "sources.yaml").write_text(
        SOURCES.replace("codes: {", "codes: {DE: {title: Germany, regions: [AT]}, ")
    )
    (tmp_path / "loop-length.yaml").write_text(WEAKER)
    told = load(NAMES, [tmp_path]).own_limits
    assert set(told) == {
        "code DE: holds in AT instead of DE",
        "loop-length: severity observation instead of major",
        "loop-length: from installed instead of design",
        "loop-length: applies where zone is perimeter instead of always",
        "loop-length: even a critical fail may be waived",
        "loop-length: limit practice-loop-length minor instead of major",
        "loop-length: limit practice-loop-length counts only where no other could be worked out",
        "loop-length: at most 500 m instead of practice-loop-length",
    }
    assert load(NAMES).own_limits == ()


def test_a_pack_that_only_adds_alters_nothing(tmp_path: Path) -> None:
    assert loaded(tmp_path).own_limits == ()


@pytest.mark.parametrize(
    ("source", "said"),
    [
        ("scope: {project.building: palace}", "'palace' is not known here"),
        (
            "scope: {project.bilding: dwelling}",
            "scope: 'project.bilding' is not a field of a design",
        ),
    ],
)
def test_a_scope_that_cannot_be_is_named(tmp_path: Path, source: str, said: str) -> None:
    with pytest.raises(BadRules, match=said):
        loaded(
            tmp_path, sources=SOURCES.replace("standing: guidance", f"{source}, standing: guidance")
        )


def test_strict_goes_with_one_sided_limits_alone(tmp_path: Path) -> None:
    rule = changed(("at_most: 90 m", "between: [1 m, 90 m]\n    strict: yes"))
    with pytest.raises(BadRules, match="'strict' goes with at_most or at_least alone"):
        loaded(tmp_path, rule=rule)
