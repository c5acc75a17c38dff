"""All readings at once: what is common to them is told apart from what is one loop's."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from checker.audit import explanations, fits, joint, ranking, summary
from checker.audit.complaints import complaints
from checker.audit.fits import Fit
from checker.audit.jobs import READINGS, from_texts
from checker.audit.on_site import Site
from checker.words.speech import METRIC, POINT, Speech
from tests.audit.independent import kinds, papers

KNOWN = complaints()
KINDS = {kind.name: kind for kind in kinds.tuning()}


@cache
def _made(name: str) -> papers.Made:
    """The papers of a simulated house, made once, which takes longest."""
    return papers.make(KINDS[name], 0)


@cache
def _site(name: str, changed: tuple[tuple[str, str], ...] = ()) -> tuple[Site, str, str]:
    made = _made(name)
    files = dict(made.files)
    for old, new in changed:
        assert old in files["site.readings.yaml"]
        files["site.readings.yaml"] = files["site.readings.yaml"].replace(old, new)
    designs = [(n, t.encode()) for n, t in files.items() if not n.endswith(READINGS)]
    taken = ("site.readings.yaml", files["site.readings.yaml"].encode())
    return Site(from_texts(name, designs, taken)), made.complaint, made.subject


@cache
def _fit(name: str) -> Fit:
    site, complaint, subject = _site(name)
    return ranking.fitted(site, KNOWN, complaint, subject)


@pytest.mark.parametrize(
    ("name", "cause"),
    [
        ("pump weak", "pump-weak"),
        # Houses simulated for this alone; `tests.benchmarks.past_jobs` counts such over many.
        pytest.param("house loses more", "house-loses-more", marks=pytest.mark.long),
        pytest.param("carpet, slow", "covering-too-resistive", marks=pytest.mark.long),
        pytest.param("supply clamp reads high", "reading-wrong", marks=pytest.mark.long),
        pytest.param("loops swapped", "loops-swapped", marks=pytest.mark.long),
    ],
)
def test_the_likeliest_cause_is_the_true_one(name: str, cause: str) -> None:
    fit = _fit(name)
    assert max(fit.odds, key=lambda one: fit.odds[one]) == cause
    assert fit.odds[cause] > 0
    assert cause in fit.best


@pytest.mark.long
def test_two_causes_at_once_are_both_found() -> None:
    fit = _fit("carpet and curve low")
    assert {"covering-too-resistive", "supply-too-cool"} <= set(fit.best)


def test_what_the_readings_cannot_part_gets_the_same_odds() -> None:
    fit = _fit("valve throttled")
    assert fit.odds["loop-starved"] == fit.odds["air-in-loop"] == fit.odds["loop-too-long"] > 0


def test_without_readings_nothing_is_fitted() -> None:
    site, _, _ = _site("pump weak", (("readings: 1", "readings: 1"),))
    assert joint.fit(site, [], {}, 0.0) == Fit()
    assert Fit().points("pump-weak") == 0


def test_residuals_are_what_the_likeliest_explanation_leaves() -> None:
    fit = _fit("pump weak")
    assert len(fit.residuals) == fit.readings
    # A weak pump explains that every flow is short.
    flows = [one.deviations for one in fit.residuals if one.what == "flow"]
    assert len(flows) >= 5
    assert np.abs(flows).max() < 3
    days = ["2025-01-10", "2025-01-26"]
    titles = {name: cause.title for name, cause in KNOWN.causes.items()}
    words = [*fit.sentences(titles, days, Speech(METRIC, POINT))]
    assert words[0].endswith("Likeliest: The pump is too weak for its loops.")
    beyond = sum(abs(one.deviations) > fits.OUTSIDE for one in fit.residuals)
    # What is observed stands beside what the instruments were declared to be.
    assert words.pop(1).startswith("What that leaves scatters, by two standard deviations: f")
    assert len(words) == 1 + max(1, min(beyond, fits.MOST_LEFT))


def test_the_model_with_nothing_changed_is_the_one_of_the_signs() -> None:
    site, _, _ = _site("house loses more")
    loops = [*site.paper.ids("loops")]
    house = joint._House(site, loops, {0}, 0.0)
    left = house.residuals(explanations.none(1, len(loops)), house.read)
    shape = (-1, len(site.job.readings.visits), len(loops))
    returned = left.reshape(shape)[2]
    for at, loop in enumerate(loops):
        assert returned[:, at] == pytest.approx(site.waters(loop).returned, abs=1e-9)


def test_a_sign_counts_only_as_far_as_all_readings_bear_it_out() -> None:
    site, complaint, subject = _site("pump weak")
    ranked = ranking.rank(site, KNOWN, complaint, subject, _fit("pump weak"))
    assert ranked[0].id == "pump-weak"
    starved = next(cause for cause in ranked if cause.id == "loop-starved")
    assert not any(piece.what in ranking.FITTED for piece in starved.supporting)
    assert not ranking.is_supported(starved)


def test_a_complaint_that_was_not_read_is_said_to_be_none() -> None:
    site, complaint, subject = _site("nothing wrong, bills")
    ranked = ranking.rank(site, KNOWN, complaint, subject)
    assert ranked[0].id == "nothing-wrong"
    assert summary.in_words(ranked).startswith("The complaint is not in the readings (")


def test_what_one_loop_shows_is_not_known_to_be_common_to_all() -> None:
    site, _, _ = _site("house loses more")
    house = joint._House(site, [*site.paper.ids("loops")], {0}, 1.0)
    causes = dict.fromkeys(("reading-wrong", "wrong-fluid", "pump-weak"), "occasional")
    assert house.several
    assert causes.keys() <= {*explanations.tried(house, causes).causes}
    house.several = False
    assert {*explanations.tried(house, causes).causes} == {"pump-weak", explanations.NOTHING}


@pytest.mark.long
def test_a_thermostat_that_shows_another_temperature_tells_itself_from_a_house_that_loses_more() -> (
    None
):
    ranked = {}
    for name in ("sensor over a lamp, display read", "house loses more, display read"):
        site, complaint, subject = _site(name)
        ranked[name] = ranking.rank(site, KNOWN, complaint, subject)
    sensor, house = ranked.values()
    assert sensor[0].id == "controls"
    assert ranking.is_supported(sensor[0])
    assert any(piece.what == "sensor-warm" for piece in sensor[0].supporting)
    assert house[0].id == "house-loses-more"
    assert ranking.is_supported(house[0])
    assert next(c for c in sensor if c.id == "house-loses-more").support == ranking.AGAINST


def test_a_house_is_not_called_leaky_before_its_thermostat_was_read() -> None:
    site, complaint, subject = _site("house loses more")
    first, *others = ranking.rank(site, KNOWN, complaint, subject)
    assert first.id == "house-loses-more"
    assert not ranking.is_supported(first)
    assert [want.what for want in first.missing if want.decides] == ["sensor-warm"]
    words = summary.in_words([first, *others])
    assert words.startswith("The readings fit this best: The house loses more than it was designed")
    assert "not read: what the thermostat shows, for: thermostat that shows more than" in words


def test_what_evidence_speaks_for_comes_first_and_what_it_speaks_against_last() -> None:
    site, complaint, subject = _site("pump weak")
    ranked = ranking.rank(site, KNOWN, complaint, subject)
    keys = [(ranking.tier(cause), -cause.points) for cause in ranked]
    assert keys == sorted(keys)
    assert {tier for tier, _ in keys} == {0, 1, 2}
    # How often a cause is met lifts none over one that has evidence for it.
    assert all(ranking.tier(c) == 0 for c in ranked if ranking.is_supported(c))
