"""Averaging beliefs about the geometry is Bayes' rule on a mixture, and starts at the geometry."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from models.learning.beliefs import BELIEFS, TERMS, WIDEST, averaged
from models.learning.estimator import prior
from models.learning.terms import PRIOR_MEANS, PRIOR_SDS, TERM_NAMES, TRUST

TERM = TERM_NAMES.index(TRUST.names[0])


def gaussian_evidence(trust: float, shape: float) -> tuple[np.ndarray, np.ndarray]:
    """Return 30 linear Gaussian observations of all terms, where some of them are as given."""
    rng = np.random.default_rng(5)
    design = rng.normal(size=(30, len(TERM_NAMES))) * 0.3
    design[:, TERMS] = rng.normal(size=(30, len(TERMS)))
    truth = PRIOR_MEANS.copy()
    truth[[TERM, TERM_NAMES.index("diagonal")]] = trust, shape
    return design, design @ truth + rng.normal(size=30)


def posterior(
    design: np.ndarray, seen: np.ndarray, sds: np.ndarray
) -> tuple[np.ndarray, np.ndarray, float]:
    """Return mean, covariance and evidence of a linear Gaussian model, by the textbook."""
    before = np.diag(PRIOR_SDS**2)
    before[TERMS, TERMS] = sds**2
    covariance = np.linalg.inv(np.linalg.inv(before) + design.T @ design)
    mean = PRIOR_MEANS + covariance @ design.T @ (seen - design @ PRIOR_MEANS)
    spread = design @ before @ design.T + np.eye(len(seen))
    return mean, covariance, float(multivariate_normal.pdf(seen, design @ PRIOR_MEANS, spread))


@pytest.mark.parametrize("trust", [0.0, 1.4])
@pytest.mark.parametrize("shape", [0.0, 0.6])
def test_it_agrees_with_one_model_per_belief_weighed_by_their_evidence(
    trust: float, shape: float
) -> None:
    design, seen = gaussian_evidence(trust, shape)
    models = [posterior(design, seen, belief.sds) for belief in BELIEFS]
    weights = np.array([b.chance * m[2] for b, m in zip(BELIEFS, models, strict=True)])
    weights /= weights.sum()
    mean = sum(w * m[0] for w, m in zip(weights, models, strict=True))
    covariance = sum(
        w * (m[1] + np.outer(m[0] - mean, m[0] - mean))
        for w, m in zip(weights, models, strict=True)
    )
    found_mean, found_covariance = averaged(*posterior(design, seen, WIDEST)[:2])
    np.testing.assert_allclose(found_mean, mean, atol=1e-10)
    np.testing.assert_allclose(found_covariance, covariance, atol=1e-10)


def test_the_regression_starts_from_the_widest_belief() -> None:
    assert PRIOR_SDS[TERMS].tolist() == WIDEST.tolist()
    assert np.all(PRIOR_MEANS[TERMS] == 0.0)
    assert all(np.all(belief.sds <= WIDEST) for belief in BELIEFS)
    assert sum(belief.chance for belief in BELIEFS) == pytest.approx(1.0, abs=1e-12)


def test_before_any_report_the_geometry_is_the_mean_and_the_variance_that_of_all_beliefs() -> None:
    believed = prior()
    assert believed.mean.tolist() == PRIOR_MEANS.tolist()
    expected = sum(belief.chance * belief.sds**2 for belief in BELIEFS)
    np.testing.assert_allclose(np.diag(believed.covariance)[TERMS], expected, rtol=1e-12)


def test_a_term_far_from_0_is_hardly_pulled_back_and_a_small_one_is() -> None:
    def kept(value: float) -> float:
        mean, covariance = PRIOR_MEANS.copy(), np.diag(PRIOR_SDS**2)
        mean[TERM], covariance[TERM, TERM] = value, 0.3**2
        return float(averaged(mean, covariance)[0][TERM]) / value

    assert kept(0.1) < 0.65
    assert kept(1.4) > 0.95
