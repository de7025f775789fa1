"""What was learned, as slow-decrease rounds; the second derivation is the suggestion itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from models.domain.anthropometry import pooled
from models.domain.foot import MEASUREMENT_NAMES
from models.domain.policy import Policy
from models.learning.calibration import calibrate, geometry_alone
from models.learning.estimator import prior
from models.learning.knitters_units import GAUGE, LONGER_MM, YARN_WEIGHT, effects, reference_rounds
from models.learning.question import Question
from models.learning.suggest import suggest
from models.learning.terms import EXCESS, TERM_NAMES

MEAN_FOOT = {name: pooled()[0][name] for name in MEASUREMENT_NAMES}


@pytest.fixture(scope="module")
def learned(worlds_):
    draw = np.random.default_rng(8)
    return calibrate(worlds_.evidence(draw, worlds_.truth.drawn(draw, reporter_sd=0.5), 400))


def asked(foot: dict[str, float]) -> Question:
    stitches = 4 * round(MEAN_FOOT["foot_circumference_mm"] * 0.9 * 30 / 100 / 4)
    return Question(foot, YARN_WEIGHT, GAUGE, Policy(stitches, 16, 4))


def test_geometry_asks_for_its_own_depth_where_a_heel_diagonal_is_longer() -> None:
    """DESIGN's formula: (1 + ease) / 2 of 10 mm; 3 rounds of 100/42 mm are one slow round more."""
    found = {one.subject: one.rounds for one in effects(prior(), ())}
    assert found["heel_diagonal_mm"] == pytest.approx(10 * 0.9 / 2 / (3 * 100 / 42))
    assert found["foot_length_mm"] == pytest.approx(0)


@pytest.mark.parametrize("name", MEASUREMENT_NAMES)
def test_ten_mm_more_move_the_suggestion_s_wanted_depth_as_much(learned, name: str) -> None:
    (found,) = (one for one in effects(learned.posterior, ()) if one.subject == name)
    longer = {**MEAN_FOOT, name: MEAN_FOOT[name] + LONGER_MM}
    depths = [suggest(learned, asked(foot)).wanted_depth_mm for foot in (MEAN_FOOT, longer)]
    assert found.rounds == pytest.approx((depths[1] - depths[0]) / (3 * GAUGE.round_mm))
    assert found.low < found.rounds < found.high


def test_the_mean_foot_wants_what_would_be_suggested_to_it(learned) -> None:
    found = {one.subject: one for one in reference_rounds(learned.posterior)}["the survey's mean"]
    question = asked(MEAN_FOOT)
    first = question.policy.total_rounds()[0] * GAUGE.round_mm
    wanted = suggest(learned, question).wanted_depth_mm
    assert found.rounds == pytest.approx((wanted - first) / (3 * GAUGE.round_mm))


def test_an_interval_holds_as_much_of_draws_from_the_posterior_as_it_says(learned) -> None:
    """Fieller's interval against draws of the coefficients (Monte Carlo, 20,000)."""
    posterior = learned.posterior
    drawn = np.random.default_rng(1).multivariate_normal(
        posterior.mean, posterior.covariance, 20_000
    )
    (found,) = (one for one in effects(posterior, ()) if one.subject == "heel_diagonal_mm")
    rounds = [
        next(
            one.rounds
            for one in effects(replace(posterior, mean=mean), ())
            if one.subject == "heel_diagonal_mm"
        )
        for mean in drawn[:1500]
    ]
    inside = np.mean((np.array(rounds) > found.low) & (np.array(rounds) < found.high))
    assert inside == pytest.approx(0.8, abs=0.04)


def test_yarn_weights_are_told_against_the_mean_of_those_shown(learned) -> None:
    found = [one for one in effects(learned.posterior, (0, 1, 2)) if "yarn" in one.subject]
    assert len(found) == 3
    assert sum(one.rounds for one in found) == pytest.approx(0, abs=1e-9)


def test_where_deeper_is_not_established_as_deeper_there_is_no_interval() -> None:
    believed = geometry_alone().posterior
    place = TERM_NAMES.index(EXCESS)
    covariance = believed.covariance.copy()
    covariance[place, place] = 4.0
    for one in effects(replace(believed, covariance=covariance), ()):
        assert (one.low, one.high) == (None, None)
