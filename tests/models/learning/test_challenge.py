"""Champion and challenger: sound calibrations go through, spoiled ones wait.

How often was measured on the decision benchmark's six worlds (`.bench/challenge.py`, figures in
DEVELOPERS.md); here are single pools of each kind.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from models.learning.challenge import ACTIVE, GEOMETRY, TOO_FEW, challenge, reasons, worse
from models.learning.evidence import Evidence
from models.learning.gaps import ALL_REPORTS, JUST_RIGHT, KNOWN_REPORTS, LOG_SCORE, Gap
from models.learning.held_out import geometry_foresees, learned_from
from models.learning.ordinal.arrays import Floats


@pytest.fixture(scope="module")
def pool(worlds_) -> Evidence:
    draw = np.random.default_rng(21)
    return worlds_.evidence(draw, worlds_.truth.drawn(draw, reporter_sd=0.5), 700)


def halves(evidence: Evidence) -> np.ndarray:
    """Return the rows of the first half of the people."""
    return evidence.reporter < evidence.reporters // 2


def changed(evidence: Evidence, rows: np.ndarray, **columns: Floats) -> Evidence:
    """Return evidence with other values in some rows."""
    new = {
        name: np.where(rows, columns.get(name, values), values)
        for name, values in evidence.columns.items()
    }
    return Evidence(new, evidence.reporter)


def test_a_sound_calibration_becomes_active_and_says_against_whom(pool) -> None:
    found = challenge(pool, halves(pool)).to_json()
    assert found["verdict"] == "becomes active"
    assert found["reasons"][0].startswith(f"not worse than {ACTIVE} and {GEOMETRY}, overall and in")
    assert {(gap["against"], gap["scope"]) for gap in found["gaps"]} == {
        (ACTIVE, ALL_REPORTS),
        (ACTIVE, KNOWN_REPORTS),
        (GEOMETRY, ALL_REPORTS),
    }
    assert {gap["measure"] for gap in found["gaps"]} == {LOG_SCORE, JUST_RIGHT}


def test_scores_given_the_wrong_way_round_make_it_wait(pool) -> None:
    known = halves(pool)
    found = challenge(changed(pool, ~known, fit_score=-pool.score), known)
    assert found.to_json()["verdict"] == "waits"
    assert any(gap.scope == KNOWN_REPORTS and gap.against == ACTIVE for gap in found.worse)
    assert all("log score -" in one or "just right -" in one for one in reasons(found))


def test_a_gauge_counted_over_half_the_length_in_one_yarn_weight_makes_it_wait(pool) -> None:
    known = halves(pool)
    spoiled = ~known & (pool.columns["yarn_weight"] == 1)
    halved = {name: pool.columns[name] / 2 for name in ("stitches_per_10cm", "rounds_per_10cm")}
    assert not challenge(changed(pool, spoiled, **halved), known).passed


def test_the_first_calibration_is_compared_with_geometry_alone(pool) -> None:
    assert {gap.against for gap in challenge(pool, None).gaps} == {GEOMETRY}


def test_an_active_one_of_few_people_is_not_compared_with(pool) -> None:
    few = challenge(pool, pool.reporter < 9)
    assert {gap.against for gap in few.gaps} == {GEOMETRY}


def test_where_nothing_is_new_nothing_differs_from_the_active_one(pool) -> None:
    found = challenge(pool, np.ones(pool.reports, dtype=bool))
    assert {gap.value for gap in found.gaps if gap.against == ACTIVE} == {0.0}
    assert found.passed


@pytest.mark.parametrize("people", [0, 1, 9])
def test_below_ten_people_nothing_is_compared_or_kept(pool, people: int) -> None:
    found = challenge(pool.only(pool.reporter < people), None)
    assert found.to_json() == {"verdict": "becomes active", "reasons": [TOO_FEW], "gaps": []}


def test_no_figure_is_about_few_people_nor_can_it_be_had_by_subtraction(pool) -> None:
    known = pool.reporter >= 4  # what four people reported is new
    found = challenge(pool, known)
    withheld = [gap for gap in found.gaps if gap.scope == KNOWN_REPORTS]
    assert withheld
    assert not any(gap.storable and gap.people != _all_of(found, gap) for gap in withheld)
    for gap in found.to_json()["gaps"]:
        assert gap["people"] >= (10 if gap["band"] is None else 20)


def _all_of(found, gap: Gap) -> int:
    """Return how many people the same gap over all reports is about."""
    return next(
        one.people
        for one in found.gaps
        if (one.against, one.measure, one.kind, one.band, one.scope)
        == (gap.against, gap.measure, gap.kind, gap.band, ALL_REPORTS)
    )


GAP = Gap(ACTIVE, LOG_SCORE, ALL_REPORTS, None, None, 0.0, 0.001, 500, 100, storable=True)


@pytest.mark.parametrize(
    ("measure", "value", "error", "waits"),
    [
        (LOG_SCORE, -0.019, 0.001, False),
        (LOG_SCORE, -0.021, 0.001, True),
        (LOG_SCORE, -0.100, 0.090, False),
        (JUST_RIGHT, -0.049, 0.001, False),
        (JUST_RIGHT, -0.051, 0.001, True),
        (JUST_RIGHT, 0.5, 0.001, False),
    ],
)
def test_worse_is_what_somebody_would_notice_and_chance_does_not_explain(
    *, measure: str, value: float, error: float, waits: bool
) -> None:
    gap = replace(GAP, measure=measure, value=value, standard_error=error)
    assert list(worse([gap])) == ([gap] if waits else [])


def test_the_more_is_compared_the_surer_a_difference_must_be() -> None:
    gap = replace(GAP, value=-0.1, standard_error=0.036)
    assert list(worse([gap])) == [gap]
    assert list(worse([gap, *[GAP] * 20])) == []


def test_nobody_is_foreseen_by_having_been_met(pool) -> None:
    """Scores of one person, turned round, change nothing of what was foreseen for that person."""
    everything = np.ones(pool.reports, dtype=bool)
    one = pool.reporter == 7
    before = learned_from(pool, everything)
    after = learned_from(changed(pool, one, fit_score=-pool.score), everything)
    assert np.array_equal(before.chances[one], after.chances[one])
    assert not np.array_equal(before.chances, after.chances)


def test_learned_from_nothing_is_geometry(pool) -> None:
    nothing = learned_from(pool, np.zeros(pool.reports, dtype=bool))
    assert np.array_equal(nothing.chances, geometry_foresees(pool).chances)
    assert nothing.beyond == pytest.approx(geometry_foresees(pool).beyond)
