"""Chances of scores to come; the second derivation is the regression's own prediction."""

from __future__ import annotations

import numpy as np
import pytest

from models.learning.calibration import calibrate
from models.learning.decide import decide, unpacked
from models.learning.design import design
from models.learning.estimator import prior
from models.learning.evidence import Evidence
from models.learning.predictive import expected_scores, score_chances
from models.learning.terms import COEFFICIENT_NAMES


@pytest.fixture
def learned(worlds):
    draw = np.random.default_rng(3)
    pool = worlds.evidence(draw, worlds.truth.drawn(draw, reporter_sd=0.5), 120)
    return calibrate(pool).posterior, pool


def test_chances_are_chances(learned) -> None:
    chances = score_chances(*learned)
    assert chances.shape == (120, 5)
    assert np.all(chances > 0)
    assert chances.sum(axis=1) == pytest.approx(np.ones(120))


def test_the_middle_one_is_what_a_suggestion_states_before_gross_errors(learned) -> None:
    posterior, pool = learned
    socks = design(pool.columns)
    gross = posterior.contamination
    for row, chances in enumerate(score_chances(posterior, pool)[:20]):
        terms = np.concatenate([[1.0, socks.excess[row], 0.0], socks.columns[row]])
        assert len(terms) == len(COEFFICIENT_NAMES)
        stated = decide(unpacked(posterior), terms, np.zeros(1), float(socks.ideal_sd[row]))
        assert chances[2] == pytest.approx((1 - gross) * stated.chances[0] + gross / 5, abs=0.01)


def test_the_scores_themselves_are_not_looked_at(learned) -> None:
    posterior, pool = learned
    other = Evidence({**pool.columns, "fit_score": -pool.score}, pool.reporter)
    assert np.array_equal(score_chances(posterior, pool), score_chances(posterior, other))


def test_deeper_socks_are_expected_to_score_deeper(learned) -> None:
    _, pool = learned
    deeper = {**pool.columns, "plain_rounds": pool.columns["plain_rounds"] + 4}
    mean, variance = expected_scores(score_chances(prior(), pool))
    moved, _ = expected_scores(score_chances(prior(), Evidence(deeper, pool.reporter)))
    assert np.all(moved > mean)
    assert np.all(variance > 0)
