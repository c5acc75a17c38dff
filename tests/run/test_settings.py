"""Settings: which file counts, what may stand in it, and where each value comes from."""

from __future__ import annotations

from pathlib import Path

import pytest

from checker.cli import check, freeze
from checker.run import session
from checker.run.settings import NONE, BadSettings, Settings, _in, nearest


@pytest.fixture(autouse=True)
def _fresh(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / ".git").mkdir()
    (tmp_path / "a" / "b").mkdir(parents=True)
    monkeypatch.chdir(tmp_path)


def forget() -> None:
    nearest.cache_clear()
    _in.cache_clear()


def put(path: Path, text: str) -> Path:
    path.write_text(text, "utf-8")
    return path


def options(settings: Settings, *words: str) -> session.Options:
    return session.options(check.parser(), [*words, "house.yaml"], settings)


def found(tmp_path: Path, text: str, *words: str) -> session.Options:
    put(tmp_path / "prescreed.yaml", text)
    forget()
    return options(nearest(str(tmp_path)), *words)


def test_the_nearest_file_counts_and_only_that(tmp_path: Path) -> None:
    put(tmp_path / "prescreed.yaml", "fail-on: minor\njobs: 2\n")
    put(tmp_path / "a" / "prescreed.yaml", "fail-on: critical\n")
    forget()
    deep = options(nearest(str(tmp_path / "a" / "b"))).values
    assert (deep.fail_on, deep.jobs) == ("critical", None)
    assert options(nearest(str(tmp_path))).values.fail_on == "minor"


def test_the_files_above_are_named_and_only_their_pin_counts(tmp_path: Path) -> None:
    put(tmp_path / "prescreed.yaml", "fail-on: minor\nrules: {edition: '1999-01'}\n")
    put(tmp_path / "a" / "pyproject.toml", "[tool.prescreed]\nquiet = true\n")
    put(tmp_path / "a" / "prescreed.yaml", "fail-on: critical\n")
    forget()
    own = nearest(str(tmp_path / "a" / "b"))
    assert own.path == "a/prescreed.yaml"
    assert [one.path for one in own.above] == ["a/pyproject.toml", "prescreed.yaml"]
    assert [list(one.pin) for one in own.above] == [[], ["edition"]]
    assert own.pin == {}


def test_nothing_above_the_repository_counts(tmp_path: Path) -> None:
    (tmp_path / "a" / ".git").mkdir()
    put(tmp_path / "prescreed.yaml", "fail-on: minor\n")
    forget()
    assert nearest(str(tmp_path / "a" / "b")) == NONE


def test_a_table_of_the_project_file_counts_too(tmp_path: Path) -> None:
    put(
        tmp_path / "pyproject.toml",
        '[tool.prescreed]\nfail-on = "minor"\ncodes = ["EN-1264", "DE"]\njobs = 2\nquiet = true\n',
    )
    forget()
    held = options(nearest(str(tmp_path / "a")))
    assert held.values.fail_on == "minor"
    assert held.values.codes == ("EN-1264", "DE")
    assert (held.values.jobs, held.values.quiet) == (2, True)
    assert held.origins["codes"] == "pyproject.toml:1"


def test_a_project_file_without_the_table_is_passed_over(tmp_path: Path) -> None:
    put(tmp_path / "prescreed.yaml", "fail-on: minor\n")
    put(tmp_path / "a" / "pyproject.toml", "[tool.other]\nx = 1\n")
    forget()
    assert nearest(str(tmp_path / "a")).path == "prescreed.yaml"


def test_the_command_line_goes_first_and_every_value_has_its_origin(tmp_path: Path) -> None:
    held = found(tmp_path, "fail-on: minor\nas-of: 2012-06-01\n", "--fail-on", "never")
    assert held.values.fail_on == "never"
    assert held.values.as_of.isoformat() == "2012-06-01"
    assert held.origins["fail_on"] == "command line"
    assert held.origins["as_of"] == "prescreed.yaml:2"
    assert held.origins["codes"] == "default"


def test_every_option_of_the_command_can_stand_there(tmp_path: Path) -> None:
    values = {
        "codes": "EN-1264",
        "as_of": "2012-06-01",
        "today": "2012-06-01",
        "jobs": "2",
        "fail_on": "minor",
        "format": "json",
    }
    for action in check.parser()._actions:
        if not action.option_strings or action.dest in ("help", "today"):
            continue
        name = action.dest.replace("_", "-")
        value = values.get(action.dest)
        if value is None:
            value = "true" if action.nargs == 0 else (action.choices or ["x"])[0]  # type: ignore[index]
        held = found(tmp_path, f"{name}: {value}\n")
        assert held.origins[action.dest] == "prescreed.yaml:1", name


def test_formats_and_outputs_pair_up_and_the_call_replaces_them(tmp_path: Path) -> None:
    text = "format: [text, sarif]\noutput: ['-', out.sarif]\n"
    assert found(tmp_path, text).values.pairs == [
        ("format", "text"), ("output", "-"), ("format", "sarif"), ("output", "out.sarif"),
    ]  # fmt: skip
    assert found(tmp_path, text, "--format", "json").values.pairs == [("format", "json")]


def test_paths_start_from_the_settings_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put(tmp_path / "prescreed.yaml", "known: prescreed.known.json\nrules: [our-rules]\n")
    forget()
    monkeypatch.chdir(tmp_path / "a")
    held = options(nearest(str(tmp_path / "a"))).values
    assert held.known == "../prescreed.known.json"
    assert held.rules == ["../our-rules"]


def test_the_rules_may_be_pinned_and_named_at_once(tmp_path: Path) -> None:
    put(tmp_path / "prescreed.yaml", "rules: {edition: '2026-11', paths: [our-rules]}\n")
    forget()
    settings = nearest(str(tmp_path))
    assert {name: pin.value for name, pin in settings.pin.items()} == {"edition": "2026-11"}
    assert options(settings).values.rules == ["our-rules"]


def test_one_commands_options_do_not_disturb_another(tmp_path: Path) -> None:
    put(tmp_path / "prescreed.yaml", "output: report.txt\nfail-on: minor\ncodes: [DE]\n")
    forget()
    held = session.options(freeze.parser(), ["house.yaml"], nearest(str(tmp_path))).values
    assert (held.file, held.codes) == ("prescreed.known.json", ("DE",))


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("fail-no: minor\n", 1, "did you mean 'fail-on'?"),
        ("codes: [EN-1264]\nfail-on: mayor\n", 2, "did you mean 'major'?"),
        ("as-of: yesterday\n", 1, "'yesterday' is not a date"),
        ("jobs: 0\n", 1, "is not a number of workers"),
        ("jobs: [1, 2]\n", 1, "write one value"),
        ("quiet: perhaps\n", 1, "write true or false"),
        ("fail-on: {a: b}\n", 1, "write a value"),
        ("fail-on:\n", 1, "write a value"),
        ("rules: {edtion: '1'}\n", 1, "did you mean 'edition'?"),
        ("fail-on: minor\nfail-on: major\n", 2, "fail-on"),
        ("codes: []\n", 1, "no code is named; write one or several"),
    ],
)
def test_a_mistake_is_told_with_its_place(tmp_path: Path, text: str, line: int, words: str) -> None:
    with pytest.raises(BadSettings) as bad:
        found(tmp_path, text)
    assert words in bad.value.problem.message
    assert (bad.value.problem.path, bad.value.problem.line) == ("prescreed.yaml", line)


def test_what_is_no_setting_is_not_proposed(tmp_path: Path) -> None:
    for name in ("paths", "pairs", "help"):
        with pytest.raises(BadSettings, match=f"'{name}' is no setting; ") as bad:
            found(tmp_path, f"{name}: designs\n")
        assert f"'{name}'" not in bad.value.problem.message.partition(";")[2]


def test_a_mistake_in_the_project_file_is_told(tmp_path: Path) -> None:
    put(tmp_path / "pyproject.toml", "[tool.prescreed]\nfail-on = [[1]]\n")
    forget()
    with pytest.raises(BadSettings, match="fail-on"):
        nearest(str(tmp_path))
    put(tmp_path / "pyproject.toml", "[tool.prescreed\n")
    forget()
    with pytest.raises(BadSettings, match="not TOML"):
        nearest(str(tmp_path))
