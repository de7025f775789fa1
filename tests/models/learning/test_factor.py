"""What reports say alone, and putting it beside a belief, by the textbook of linear models."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from models.learning.factor import Factor, alone

SDS = np.array([1.0, 0.5, 2.0])
MEANS = np.array([0.2, -1.0, 0.5])


def rows(seed: int, design: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return posterior mean and covariance after noisy sums of three terms."""
    seen = design @ np.array([0.7, -0.4, 1.5]) + np.random.default_rng(seed).normal(
        size=len(design)
    )
    covariance = np.linalg.inv(np.diag(SDS**-2.0) + design.T @ design)
    return covariance @ (MEANS / SDS**2 + design.T @ seen), covariance


def test_a_belief_beside_estimates_is_the_normal_distribution_of_both() -> None:
    covariance = np.array([[1.0, 0.3, 0.0], [0.3, 0.5, -0.2], [0.0, -0.2, 2.0]])
    told = Factor(np.array([4.0, 0.0, 0.5]), np.array([1.0, 99.0, -2.0]))
    seen, noise = [0, 2], np.diag([1 / 4.0, 1 / 0.5])
    spread = covariance[np.ix_(seen, seen)] + noise
    gain = covariance[:, seen] @ np.linalg.inv(spread)
    density, mean, joined = told.beside(MEANS, covariance)
    expected = multivariate_normal.logpdf(told.estimate[seen], MEANS[seen], spread)
    assert density == pytest.approx(float(expected) + np.log(2 * np.pi))
    np.testing.assert_allclose(mean, MEANS + gain @ (told.estimate - MEANS)[seen])
    np.testing.assert_allclose(joined, covariance - gain @ covariance[seen])
    assert np.array_equal(joined, joined.T)


def test_what_rows_say_alone_and_the_belief_make_the_posterior_again() -> None:
    mean, covariance = rows(1, np.random.default_rng(0).normal(size=(40, 3)))
    _, again, joined = alone(mean, covariance, MEANS, SDS).beside(MEANS, np.diag(SDS**2))
    np.testing.assert_allclose(again, mean)
    np.testing.assert_allclose(np.diag(joined), np.diag(covariance))


def test_two_pools_one_after_the_other_say_what_they_say_together() -> None:
    """Sequential Bayes: exact where terms do not move together, as in this balanced design."""
    design = np.kron(np.eye(3), np.ones((20, 1)))
    one, two = rows(1, design), rows(2, design)
    _, mean, covariance = alone(*one, MEANS, SDS).beside(*two)
    precision = np.diag(SDS**-2.0) + 2 * design.T @ design
    pull = sum(np.linalg.solve(c, m) for m, c in (one, two)) - MEANS / SDS**2
    np.testing.assert_allclose(mean, np.linalg.solve(precision, pull))
    np.testing.assert_allclose(np.linalg.inv(covariance), precision, atol=1e-9)


def test_where_rows_say_nothing_the_belief_stays_as_it_was() -> None:
    told = alone(MEANS, np.diag(SDS**2), MEANS, SDS)
    assert told.precision.tolist() == told.estimate.tolist() == [0.0] * 3
    density, mean, covariance = told.beside(MEANS, np.diag(SDS**2))
    assert (density, mean.tolist()) == (0.0, MEANS.tolist())
    assert covariance.tolist() == np.diag(SDS**2).tolist()


def test_it_goes_through_json_to_the_bit() -> None:
    told = Factor(np.array([0.1, 0.0]), np.array([1 / 3, 0.0]))
    again = Factor.from_json(told.to_json())
    assert again.precision.tobytes() == told.precision.tobytes()
    assert again.estimate.tobytes() == told.estimate.tobytes()
