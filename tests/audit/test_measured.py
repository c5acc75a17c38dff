"""Readings against the model: what is apart, what is not, and what signs say."""

from __future__ import annotations

import warnings
from datetime import date
from pathlib import Path

import msgspec
import numpy as np
import pytest

from checker.audit import archive, differences, heat, inference, jobs, ranking
from checker.audit.complaints import complaints
from checker.audit.differences import Difference
from checker.audit.following import next_measurements
from checker.audit.jobs import NoJob, open_job
from checker.audit.loop_models import LoopModel, PartsModel
from checker.audit.on_site import Site
from checker.audit.signs import SIGNS
from checker.reading import bounded
from checker.words.speech import METRIC, POINT, Speech
from tests.example import DESIGN, TWO_ROOMS, changed

VISIT = "readings: 1\nvisits:\n  - {{on: 2027-01-15, outside: {outside} °C, loops: {{{loops}}}}}\n"


def _site(loops: str, outside: float = 8.5, text: str = DESIGN) -> Site:
    readings = VISIT.format(outside=outside, loops=loops).encode()
    files = [("house.yaml", text.encode())]
    return Site(jobs.from_texts("job", files, ("a.readings.yaml", readings)))


def _row(site: Site, name: str, loop: str = "L1") -> Difference:
    return next(r for r in differences.differences(site) if (r.loop, r.name) == (loop, name))


@pytest.mark.parametrize(
    ("supply", "apart"), [("30 °C", False), ("24 °C", True), ("41.8 °C", False), ("46 °C", True)]
)
def test_cooler_water_on_a_mild_day_is_not_apart(supply: str, apart: bool) -> None:
    # At 8.5 °C outside half the design load is left (20 °C inside, -3 °C on the coldest day).
    row = _row(_site(f"L1: {{supply: {supply}}}"), "supply_temperature")
    assert row.apart is apart
    assert row.computed is not None
    assert 24.5 < row.computed < 29.5
    assert row.designed is None
    assert row.installed == 42


def test_a_reading_within_the_accuracy_is_not_apart() -> None:
    site = _site("L1: {flow: 1.5 l/min, supply: 38 °C, return: 30 °C}")
    computed = _row(site, "return_temperature").computed
    assert computed is not None
    for off, apart in ((0.3, False), (-0.3, False), (3.0, True), (-3.0, True)):
        back = f"{computed + off:.3f} °C"
        own = _site(f"L1: {{flow: 1.5 l/min, supply: 38 °C, return: {back}}}")
        row = _row(own, "return_temperature")
        assert row.apart is apart
        assert row.computed == pytest.approx(computed)


def test_a_change_between_design_and_installation_is_said() -> None:
    designed = changed(("stage: installed", "stage: design"))
    laid = changed(("length: 88 m", "length: 101 m"))
    files = [("a.yaml", designed.encode()), ("b.yaml", laid.encode())]
    rows = differences.differences(Site(jobs.from_texts("job", files)))
    length = [row for row in rows if row.name == "length"]
    assert [(row.loop, row.designed, row.installed, row.says) for row in length] == [
        ("L1", 88, 101, "laid differently from the design")
    ]


def test_a_loop_is_short_alone_only_if_its_neighbours_are_not() -> None:
    def seen(first: float, second: float) -> float:
        site = _site("")
        flows = [site.paper.value("loop", "flow", loop) * 6e4 for loop in ("L1", "L2")]
        loops = f"L1: {{flow: {first * flows[0]} l/min}}, L2: {{flow: {second * flows[1]} l/min}}"
        return SIGNS["flow-short-alone"](_site(loops), "L1").value

    assert seen(0.5, 1.0) == pytest.approx(0.5, abs=0.01)
    assert seen(0.5, 0.5) == pytest.approx(0.0, abs=0.01)
    # A neighbour with too much water makes no loop short.
    assert seen(0.5, 1.5) == pytest.approx(0.5, abs=0.01)


def test_one_loop_alone_tells_nothing_of_its_header() -> None:
    site = _site("L2: {flow: 0.2 l/min}", text=changed(("balance: {L1: {flow: 1.5 l/min}}", "")))
    assert np.isnan(SIGNS["header-short"](site, "H1").value)
    assert np.isnan(SIGNS["flow-short-alone"](site, "L2").value)


def test_a_limit_that_is_kept_is_no_evidence_where_its_breach_would_speak_against() -> None:
    ranked = ranking.rank(_site(""), complaints(), "cold-room", "rooms.kitchen")
    cause = next(one for one in ranked if one.id == "load-beyond-floor")
    assert "covering-resistance" not in [piece.what for piece in cause.supporting]


def test_nothing_read_gives_no_sign_but_those_of_papers() -> None:
    site = Site(jobs.from_texts("job", [("house.yaml", DESIGN.encode())]))
    known = complaints().signs
    of = {"loop": "L2", "room": "bath", "header": "H1", "floor": "slab"}
    seen = {
        name for name in SIGNS if not np.isnan(SIGNS[name](site, of[known[name].subject]).value)
    }
    assert seen == {
        "screed-thick",
        "screed-thin",
        "spacing-wide",
        "insulation-thin",
        "pump-surplus",
    }


TWO_VISITS = """\
readings: 1
visits:
  - {{on: 2027-01-15, loops: {{L1: {{flow: 1.4 l/min, supply: 38 °C, return: 30 °C}}}}}}
  - {{on: 2027-02-15, loops: {{L1: {{{second}}}}}}}
"""


@pytest.mark.parametrize(
    ("second", "day", "supply"),
    [
        ("flow: 1.5 l/min, supply: 36 °C, return: 29 °C", 2, 36),
        ("supply: 36 °C, return: 29 °C, surface: 25 °C", 1, 38),
    ],
)
def test_what_was_measured_is_of_one_visit(second: str, day: int, supply: float) -> None:
    text = TWO_VISITS.format(second=second).encode()
    job = jobs.from_texts("job", [("house.yaml", DESIGN.encode())], ("a.readings.yaml", text))
    rows = [row for row in differences.differences(Site(job)) if row.measured is not None]
    assert {row.name for row in rows} == {"flow", "supply_temperature", "return_temperature"}
    assert {row.on for row in rows} == {date(2027, day, 15)}
    assert next(row.measured for row in rows if row.name == "supply_temperature") == supply


def test_a_recorded_balance_is_no_reading_on_site() -> None:
    text = changed(("balance: {L1: {flow: 1.5 l/min}}", "balance: {L1: {flow: 0.5 l/min}}"))
    site = Site(jobs.from_texts("job", [("house.yaml", text.encode())]))
    row = _row(site, "flow")
    assert (row.balanced, row.measured, row.on, row.apart, row.says) == (0.5, None, None, False, "")


def test_a_loss_of_nought_gives_no_length_and_no_warning() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        site = _site("L1: {flow: 1.5 l/min, supply: 38 °C, return: 30 °C, pressure_drop: 0 kPa}")
        one = site.inferred("L1", "length")
    assert np.isnan(one.value)
    assert "read as zero" in one.because


@pytest.mark.parametrize(
    ("sign", "loops", "says", "asked"),
    [
        ("length-more", "", "not read: loop longer", "Read the loss"),
        (
            "length-more",
            "L1: {flow: 1.5 l/min, pressure_drop: 30 kPa, content: 4 l}",
            "cannot be determined: loop longer than stated: the readings contradict",
            "Once more: Read the loss",
        ),
        (
            "length-more",
            "L1: {flow: 1.5 l/min}",
            "not read: the pressure loss, for: loop longer",
            "only the pressure loss was not read",
        ),
    ],
)
def test_what_was_read_is_not_asked_for_as_if_it_were_not(
    sign: str, loops: str, says: str, asked: str
) -> None:
    ranked = ranking.rank(_site(loops), complaints(), "cold-room", "loops.L1")
    cause = next(one for one in ranked if one.id == "loop-too-long")
    want = next(one for one in cause.missing if one.what == sign)
    assert want.says.startswith(says)
    following = next_measurements([cause], complaints())
    own = next(one for one in following if one.id == "pressure-loss")
    assert asked in own.what


def test_what_no_reading_can_tell_is_not_asked_for() -> None:
    # Much water hides the covering: the same instruments would not do better.
    loops = "L1: {flow: 6 l/min, supply: 38 °C, return: 36.5 °C}"
    ranked = ranking.rank(_site(loops), complaints(), "cold-room", "loops.L1")
    cause = next(one for one in ranked if one.id == "covering-too-resistive")
    want = next(one for one in cause.missing if one.what == "covering-more")
    assert want.says.startswith("cannot be determined: covering resists more than stated: from no")
    assert want.measure == ""
    following = next_measurements([cause], complaints())
    assert "waters" not in [one.id for one in following]


def test_a_loop_in_two_rooms_bears_on_both_and_is_no_one_rooms() -> None:
    site = _site("L1: {flow: 1.5 l/min, supply: 38 °C, return: 30 °C}", text=TWO_ROOMS)
    assert site.paper.named("L1", "room") == ["kitchen", "bath"]
    for room in ("kitchen", "bath"):
        assert {"loops.L1", "floors.slab"} <= site.paper.related(f"rooms.{room}")
    said = site.inferred("L1", inference.COVERING)
    assert "several parts" in said.because
    assert np.isnan(said.value)
    # Each room gets its part of what the loop gives.
    model = site.model("L1")
    shares = [model.share_of(room) for room in ("kitchen", "bath")]
    assert sum(shares) == pytest.approx(1)
    up = heat.upwards(site, "L1")
    air = site.job.readings.of("rooms.kitchen", "temperature")
    assert np.isfinite(heat.house(site, "kitchen").value) == bool(air)
    assert (up > 0).all()
    assert archive._loop(site.paper, "L1")["room"] == "kitchen, bath"


def test_the_supply_that_a_loop_in_parts_needs_is_that_of_its_neediest() -> None:
    whole, divided = _site("L1: {supply: 38 °C}"), _site("L1: {supply: 38 °C}", text=TWO_ROOMS)
    alone = [site.needed_supply("L2")[0] for site in (whole, divided)]
    both = divided.needed_supply("L1")[0]
    # At 8.5 °C outside the bath, of 24 °C, asks for more than the kitchen.
    assert both > 24
    assert both == max(divided._needed_supply(f"L1.parts[{n}]")[0] for n in (1, 2))
    # A second floor in the bath leaves its first loop less to give.
    assert alone[1] < alone[0]


def test_parts_that_are_alike_come_to_the_floor_that_they_make_up() -> None:
    whole = _site("L1: {flow: 1.5 l/min, supply: 38 °C, return: 30 °C}").model("L1")
    half = msgspec.structs.replace(whole, area=whole.area / 2)
    own = {name: getattr(whole, name) for name in LoopModel.__struct_fields__}
    both = PartsModel(
        **own | {"covering_resistance": 0.0}, parts=(half, half), rooms=("kitchen", "kitchen")
    )
    flow, supply, room = (np.full(1, value) for value in (2.5e-5, 38.0, 20.0))
    for more in (0.0, 0.08):
        covering = whole.covering_resistance + more
        alone = whole.return_at(flow, supply, room, covering)
        assert both.return_at(flow, supply, room, more) == pytest.approx(alone, abs=1e-9)
        assert both.surface_at(flow, supply, room, more) == pytest.approx(
            whole.surface_at(flow, supply, room, covering), abs=1e-9
        )
    assert both.share_of("kitchen") == 1.0


def test_a_loop_in_parts_stands_beside_the_model_with_all_others() -> None:
    loops = "L1: {flow: 1.5 l/min, supply: 38 °C, return: 30 °C}, L2: {flow: 1.2 l/min, supply: 38 °C, return: 31 °C}"
    site = _site(loops, text=TWO_ROOMS)
    fit = ranking.fitted(site, complaints(), "cold-room", "loops.L1")
    assert {"flow", "supply", "return"} <= {
        one.what for one in fit.residuals if one.subject == "loops.L1"
    }


def test_waters_of_a_header_come_together_by_one_rule() -> None:
    supply, back = np.array([[35.0, np.nan, 37.0]]), np.array([[30.0, 28.0, np.nan]])
    # One water: what was not read at one loop was read at the others.
    assert heat.common_supply(supply) == pytest.approx([36.0])
    assert np.isnan(heat.common_supply(np.full((1, 2), np.nan))).all()
    # A return that was not read may be any, but that of a loop without flow adds nothing.
    assert np.isnan(heat.mixed_return(np.array([[1.0, 1.0, 1.0]]), back)).all()
    assert heat.mixed_return(np.array([[1.0, 3.0, 0.0]]), back) == pytest.approx([28.5])


def test_a_leak_that_emptied_the_pipes_between_two_readings_is_told_as_at_least() -> None:
    visits = "".join(
        f"- {{on: 2027-01-{day}, at: '09:00', headers: {{H1: {{pressure: {bar} bar, temperature: 22 °C}}}}}}\n"
        for day, bar in ((15, 1.5), (16, 0.0))
    )
    taken = ("a.readings.yaml", f"readings: 1\nvisits:\n{visits}".encode())
    found = Site(jobs.from_texts("job", [("house.yaml", DESIGN.encode())], taken)).leak("H1")
    assert found.emptied
    words = found.words(Speech(METRIC, POINT))
    assert " ml/h or far more (at least " in words
    assert "95 %), for the pressure was gone between two readings" in words


def test_no_file_of_readings_is_cut(tmp_path: Path) -> None:
    """What a logger wrote in weeks is read to its last row, or the file is refused."""
    (tmp_path / "house.yaml").write_text(DESIGN, "utf-8")
    log = tmp_path / "H1.readings.csv"
    space = " " * 10_000
    rows = [f"{at},{1.6 - at / 1e5:.5f},22.0,{space}" for at in range(900)]
    log.write_text("\n".join(("Time [min],Pressure [bar],Temperature [°C],Note", *rows)), "utf-8")
    assert log.stat().st_size > bounded.LARGEST_FILE
    assert Site(open_job(str(tmp_path))).leak("H1").days == pytest.approx(899 / 1440)
    log.write_text(
        "\n".join(("Time [min],Pressure [bar],Temperature [°C],Note", *rows * 3)), "utf-8"
    )
    with pytest.raises(NoJob, match="a CSV file may have 20,971,520"):
        open_job(str(tmp_path))


def test_a_logger_is_read_like_a_gauge(tmp_path: Path) -> None:
    (tmp_path / "house.yaml").write_text(DESIGN, "utf-8")
    minutes, falls = (0, 60, 180, 480, 1440), (1.6, 1.55, 1.46, 1.24, 0.82)
    rows = [f"{at},{bar},22.0" for at, bar in zip(minutes, falls, strict=True)]
    text = "\n".join(("Time [min],Pressure [bar],Temperature [°C]", *rows)) + "\n"
    (tmp_path / "H1.readings.csv").write_text(text, "utf-8")
    job = open_job(str(tmp_path))
    logged = Site(job).leak("H1")
    assert (logged.readings, logged.days) == (5, 1.0)
    visits = [
        f"- {{on: 2027-01-{15 + at // 1440}, at: '{at % 1440 // 60:02}:00', headers: {{H1: "
        f"{{pressure: {bar} bar, temperature: 22 °C}}}}}}"
        for at, bar in zip(minutes, falls, strict=True)
    ]
    (tmp_path / "H1.readings.csv").unlink()
    by_hand = "\n".join(("readings: 1", "visits:", *visits)) + "\n"
    (tmp_path / "a.readings.yaml").write_text(by_hand, "utf-8")
    assert Site(open_job(str(tmp_path))).leak("H1") == logged
    assert logged.sure > 0
    (tmp_path / "a.readings.yaml").unlink()
    (tmp_path / "H9.readings.csv").write_text(text, "utf-8")
    with pytest.raises(NoJob, match="no header 'H9'"):
        open_job(str(tmp_path))
    (tmp_path / "H9.readings.csv").write_text("much,more\n1,2\n", "utf-8")
    with pytest.raises(NoJob, match="no row has headings"):
        open_job(str(tmp_path))
