"""Policy: which files count, what may stand in them, and where each value comes from."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from checker.cli import check, freeze
from checker.run.options import Call, Options
from checker.run.policy import policy_of_call
from checker.run.settings_files import KEYS, NOT_HERE, BadSettings, Glob, forget


@pytest.fixture(autouse=True)
def _fresh(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / ".git").mkdir()
    (tmp_path / "a" / "b").mkdir(parents=True)
    monkeypatch.chdir(tmp_path)


def put(path: Path, text: str) -> Path:
    path.write_text(text, "utf-8")
    return path


def options(folder: str, *words: str) -> Options:
    forget()
    policy = policy_of_call(None, None)
    return Call(check.parser(), [*words, "house.yaml"]).under(policy.at(os.path.abspath(folder)))


def found(tmp_path: Path, text: str, *words: str) -> Options:
    put(tmp_path / "prescreed.yaml", text)
    return options(".", *words)


def test_what_is_further_down_only_makes_it_stricter(tmp_path: Path) -> None:
    put(tmp_path / "prescreed.yaml", "fail-on: minor\ncodes: [DE]\n")
    put(tmp_path / "a" / "prescreed.yaml", "fail-on: critical\ncodes: [US]\nknown: x\n")
    put(tmp_path / "a" / "b" / "prescreed.yaml", "fail-on: observation\nfail-on-open: all\n")
    above, deep = options("a").values, options("a/b").values
    assert (above.fail_on, above.codes, above.known) == ("minor", ("DE", "US"), None)
    assert (deep.fail_on, deep.fail_on_open) == ("observation", ["all"])
    forget()
    policy = policy_of_call(None, None)
    policy.at(str(tmp_path / "a" / "b"))
    assert [note.partition(" is ignored")[0] for note in policy.notes] == [
        "a/prescreed.yaml:1: fail-on",
        "a/prescreed.yaml:3: known",
    ]


@pytest.mark.parametrize("loose", ["never", "critical"])
def test_without_a_policy_a_file_further_down_loosens_nothing(tmp_path: Path, loose: str) -> None:
    put(tmp_path / "a" / "prescreed.yaml", f"fail-on: {loose}\n")
    assert options("a").values.fail_on == "major"


def test_a_trusted_file_says_all_but_whom_to_trust(tmp_path: Path) -> None:
    put(tmp_path / "prescreed.yaml", "trust: [a]\nexclude: [x]\n")
    put(tmp_path / "a" / "prescreed.yaml", "fail-on: never\ntrust: [b]\nexclude: ['*-old.yaml']\n")
    held = options("a").values
    assert held.fail_on == "never"
    assert held.exclude == [Glob(str(tmp_path), "x"), Glob(str(tmp_path / "a"), "*-old.yaml")]


def test_all_pins_above_count(tmp_path: Path) -> None:
    put(tmp_path / "prescreed.yaml", "fail-on: minor\nrules: {edition: '1999-01'}\n")
    put(tmp_path / "a" / "pyproject.toml", "[tool.prescreed]\nrules = {digest = 'x'}\n")
    put(tmp_path / "a" / "prescreed.yaml", "rules: {edition: '1999-02', paths: [own]}\n")
    forget()
    policy = policy_of_call(None, None)
    pins = policy.at(str(tmp_path / "a" / "b")).pins
    assert [(file.path, name, pin.value) for file, name, pin in pins] == [
        ("prescreed.yaml", "edition", "1999-01"),
        ("a/prescreed.yaml", "edition", "1999-02"),
        ("a/pyproject.toml", "digest", "x"),
    ]
    assert any("rules is ignored" in note for note in policy.notes)


def test_nothing_above_the_repository_counts(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "a" / ".git").mkdir()
    put(tmp_path / "prescreed.yaml", "fail-on: minor\n")
    monkeypatch.chdir(tmp_path / "a")
    assert options("b").values.fail_on == "major"
    # Unless the call is made above: it is then the caller's policy.
    monkeypatch.chdir(tmp_path)
    assert options("a/b").values.fail_on == "minor"


def test_a_table_of_the_project_file_counts_too(tmp_path: Path) -> None:
    put(
        tmp_path / "pyproject.toml",
        '[tool.other]\ncodes = 1\n[tool.prescreed]\nfail-on = "minor"\ncodes = ["EN-1264", "DE"]\nsummary = true\n',
    )
    held = options("a")
    assert (held.values.fail_on, held.values.summary) == ("minor", True)
    assert held.values.codes == ("EN-1264", "DE")
    assert held.origins["codes"] == "pyproject.toml:5"


def test_the_command_line_goes_first_and_every_value_has_its_origin(tmp_path: Path) -> None:
    held = found(tmp_path, "fail-on: minor\nas-of: 2012-06-01\n", "--fail-on", "never")
    assert held.values.fail_on == "never"
    assert held.values.as_of.isoformat() == "2012-06-01"
    assert held.origins["fail_on"] == "command line"
    assert held.origins["as_of"] == "prescreed.yaml:2"
    assert held.origins["codes"] == "default"


def test_every_option_may_stand_in_a_policy_or_is_known_not_to() -> None:
    options = {
        action.dest.replace("_", "-")
        for action in check.parser()._actions
        if action.option_strings and action.dest != "help"
    }
    assert options - set(KEYS) == set(NOT_HERE)
    assert set(KEYS) - options == {"trust"}


def test_formats_hold_and_the_call_replaces_them(tmp_path: Path) -> None:
    text = "format: [json]\n"
    assert found(tmp_path, text).values.pairs == [("format", "json")]
    assert found(tmp_path, text, "--format", "sarif").values.pairs == [("format", "sarif")]


def test_paths_start_from_the_folder_of_the_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put(tmp_path / "prescreed.yaml", "known: prescreed.known.json\nrules: [our-rules]\n")
    monkeypatch.chdir(tmp_path / "a")
    held = options(".")
    assert held.values.known == str(tmp_path / "prescreed.known.json")
    assert held.values.rules == [str(tmp_path / "our-rules")]
    assert held.shown()["known"] == "../prescreed.known.json"


def test_the_rules_may_be_pinned_and_named_at_once(tmp_path: Path) -> None:
    held = found(tmp_path, "rules: {edition: '2026-11', paths: [our-rules]}\n")
    assert held.values.rules == [str(tmp_path / "our-rules")]


def test_one_commands_options_do_not_disturb_another(tmp_path: Path) -> None:
    put(tmp_path / "prescreed.yaml", "format: json\nfail-on: minor\ncodes: [DE]\n")
    forget()
    base = policy_of_call(None, None).base
    held = Call(freeze.parser(), ["house.yaml"]).under(base).values
    assert (held.file, held.codes) == ("prescreed.known.json", ("DE",))


@pytest.mark.parametrize(
    ("pattern", "path", "alike"),
    [
        ("drafts", "drafts/a.yaml", True),
        ("drafts", "x/drafts/a.yaml", False),
        ("*-old.yaml", "x/a-old.yaml", True),
        ("./drafts/", "drafts/a.yaml", True),
        ("*", "../a.yaml", False),
        ("../x", "../x/a.yaml", True),
        ("a.yaml", "br[ack]/a.yaml", False),
    ],
)
def test_patterns_start_from_their_folder(
    tmp_path: Path, pattern: str, path: str, alike: bool
) -> None:
    for folder in (tmp_path / "a", tmp_path / "br[ack]"):
        own = os.path.normpath(folder / path)
        assert Glob(str(folder), pattern).matches(own) is alike


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("fail-no: minor\n", 1, "did you mean 'fail-on'?"),
        ("codes: [EN-1264]\nfail-on: mayor\n", 2, "did you mean 'major'?"),
        ("as-of: yesterday\n", 1, "'yesterday' is not a date"),
        ("table: [results, computed]\n", 1, "write one value"),
        ("summary: perhaps\n", 1, "write true or false"),
        ("fail-on: {a: b}\n", 1, "write a value"),
        ("fail-on:\n", 1, "write a value"),
        ("rules: {edtion: '1'}\n", 1, "did you mean 'edition'?"),
        ("fail-on: minor\nfail-on: major\n", 2, "fail-on"),
        ("codes: []\n", 1, "no code is named; write one or several"),
        ("exclude: ['']\n", 1, "an empty text names nothing"),
        ("exclude: ''\n", 1, "an empty text names nothing"),
        ("today: 2026-01-15\n", 1, "'today' cannot be set in a file: which day it is"),
    ],
)
def test_a_mistake_is_told_with_its_place(tmp_path: Path, text: str, line: int, words: str) -> None:
    with pytest.raises(BadSettings) as bad:
        found(tmp_path, text)
    assert words in bad.value.problem.message
    assert (bad.value.problem.path, bad.value.problem.line) == ("prescreed.yaml", line)


def test_what_is_no_setting_is_not_proposed(tmp_path: Path) -> None:
    for name in ("paths", "pairs", "help"):
        with pytest.raises(BadSettings, match=f"'{name}' is not a setting; ") as bad:
            found(tmp_path, f"{name}: designs\n")
        assert f"'{name}'" not in bad.value.problem.message.partition(";")[2]


def test_a_mistake_in_the_project_file_is_told(tmp_path: Path) -> None:
    put(tmp_path / "pyproject.toml", "[tool.prescreed]\nfail-on = [[1]]\n")
    with pytest.raises(BadSettings, match="fail-on"):
        options(".")
    put(tmp_path / "pyproject.toml", "[tool.prescreed\n")
    with pytest.raises(BadSettings, match="not TOML"):
        options(".")
    put(tmp_path / "pyproject.toml", "[tool]\nprescreed = 1\n")
    with pytest.raises(BadSettings, match="should be a table"):
        options(".")


@pytest.mark.parametrize("text", ["javascript:alert(1)", "manual/", 'https://x.org/"onclick'])
def test_the_manual_is_an_address_of_the_web(tmp_path: Path, text: str) -> None:
    with pytest.raises(BadSettings, match="write an address that begins with https://"):
        found(tmp_path, f"manual: '{text}'\n")


def test_only_the_policy_says_where_the_manual_is(tmp_path: Path) -> None:
    put(tmp_path / "prescreed.yaml", "manual: https://manual.example.org/\n")
    put(tmp_path / "a" / "prescreed.yaml", "manual: https://elsewhere.example.org/\n")
    assert options("a").values.manual == "https://manual.example.org/"
