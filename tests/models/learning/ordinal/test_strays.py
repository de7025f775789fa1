"""Reporters are doubted by what they answer, never for being few or for being moved together."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import expit, logit
from scipy.stats import norm

from models.learning.ordinal.likelihood import Noise
from models.learning.ordinal.links import LINKS
from models.learning.ordinal.problem import Rows
from models.learning.ordinal.reporters import Reporters
from models.learning.ordinal.strays import (
    _answers,
    _left_out_variance,
    _log_evidence,
    _share,
    moved_doubts,
    no_doubts,
    stray_odds,
)

THRESHOLDS = np.array([-1.8, -0.85, 0.85, 1.8])
LOG_SD = float(np.log(0.55))


def answered(*scores: list[int]) -> Rows:
    """Return rows of one coefficient, the intercept; a list of scores (0 to 4) per reporter."""
    who = np.repeat(np.arange(len(scores)), [len(own) for own in scores])
    category, n = np.concatenate(scores).astype(np.int64), len(who)
    noise = Noise(LINKS["probit"], 0.0, np.ones(n))
    return Rows(np.ones((n, 1)), category, np.ones(n), noise, Reporters.from_sorted(who), 5)


def judged(rows: Rows, known: float = 0.0) -> np.ndarray:
    """Return the doubts where the intercept is 0 with a variance of `known`."""
    start = no_doubts(rows.reporters.count, 0.06, 10.0)
    fixed, covariance = np.zeros(len(rows.category)), np.array([[known]])
    return moved_doubts(start, stray_odds(rows, THRESHOLDS, fixed, covariance, LOG_SD)).of_reporter


@pytest.mark.parametrize("variance", [0.1, 0.3, 1.0, 9.0])
@pytest.mark.parametrize("scores", [[0], [2, 2], [0, 0, 0], [4, 3, 4, 4]])
def test_evidence_of_answers_agrees_with_adaptive_integration(
    variance: float, scores: list[int]
) -> None:
    rows, edges = answered(scores), np.array([-np.inf, *THRESHOLDS, np.inf])

    def likelihood(offset: float) -> float:
        return float(
            np.prod([norm.cdf(edges[k + 1] - offset) - norm.cdf(edges[k] - offset) for k in scores])
        )

    found = _log_evidence(_answers(rows, THRESHOLDS, np.zeros(len(scores))), np.array([variance]))
    sd = np.sqrt(variance)
    exact = quad(lambda b: likelihood(b) * norm.pdf(b, scale=sd), -8 * sd, 8 * sd, points=[0.0])[0]
    # Likelihoods are stated with their largest value as 1, which cancels between two beliefs.
    largest = max(map(likelihood, np.linspace(-7, 7, 2001)))
    assert found[0] == pytest.approx(np.log(exact / largest), abs=0.12)


def test_left_out_variance_is_that_of_the_posterior_without_the_reporter() -> None:
    rng = np.random.default_rng(3)
    who = Reporters.from_sorted(np.repeat(np.arange(6), [1, 2, 3, 1, 4, 2]))
    design, bend, sound = rng.normal(size=(13, 3)), rng.random(13) + 0.2, 0.3
    rows = Rows(design, np.zeros(13, np.int64), np.ones(13), answered([0]).noise, who, 5)
    total = who.total(bend)
    middle = who.totals(bend[:, None] * design) / total[:, None]
    own = sound + 1 / total
    prior = np.eye(3) / 0.5

    def covariance(kept: np.ndarray) -> np.ndarray:
        return np.linalg.inv(prior + middle[kept].T @ (middle[kept] / own[kept, None]))

    found = _left_out_variance(rows, bend, covariance(np.arange(6)), sound)
    without = [covariance(np.delete(np.arange(6), r)) for r in range(6)]
    expected = [middle[r] @ without[r] @ middle[r] for r in range(6)]
    np.testing.assert_allclose(found, expected, rtol=1e-10)


def test_a_reporter_who_calls_every_sock_far_too_shallow_is_doubted_among_many() -> None:
    doubts = judged(answered([0, 0, 0], *[[2, 1, 3]] * 20))
    assert doubts[0] > 0.5
    assert np.all(doubts[1:] < 0.05)


def test_where_nobody_knows_the_middle_nobody_is_strange() -> None:
    rows = answered([0, 0, 0], [2, 3, 3])
    assert judged(rows, known=0.6)[0] < judged(rows)[0] / 2
    assert judged(rows, known=0.6)[0] < 0.2


def test_the_share_of_strays_is_their_mean_chance_with_the_belief_counted_in() -> None:
    odds = np.array([*[3.0] * 6, *[-2.0] * 14])
    share = _share(odds, 0.06, 10.0)
    chance = expit(odds + logit(share))
    assert share == pytest.approx((0.06 * 10.0 + chance.sum()) / (10.0 + 20.0), abs=1e-9)
    assert 0.15 < share < 0.3
