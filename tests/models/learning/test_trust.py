"""Averaging over trust in the geometry is Bayes' rule on a mixture, and starts at the geometry."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from models.learning.estimator import prior
from models.learning.terms import PRIOR_MEANS, PRIOR_SDS, TERM_NAMES, TRUST
from models.learning.trust import HOLDS, SD_IF_IT_HOLDS, averaged

TERM = TERM_NAMES.index(TRUST.names[0])


def gaussian_evidence(size: float) -> tuple[np.ndarray, np.ndarray]:
    """Return 30 linear Gaussian observations of all terms, where trust is `size`."""
    rng = np.random.default_rng(5)
    design = rng.normal(size=(30, len(TERM_NAMES))) * 0.3
    design[:, TERM] = rng.normal(size=30)
    truth = np.where(np.arange(len(TERM_NAMES)) == TERM, size, PRIOR_MEANS)
    return design, design @ truth + rng.normal(size=30)


def posterior(
    design: np.ndarray, seen: np.ndarray, trust_sd: float
) -> tuple[np.ndarray, np.ndarray, float]:
    """Return mean, covariance and evidence of a linear Gaussian model, by the textbook."""
    before = np.diag(np.where(np.arange(len(TERM_NAMES)) == TERM, trust_sd, PRIOR_SDS) ** 2)
    covariance = np.linalg.inv(np.linalg.inv(before) + design.T @ design)
    mean = PRIOR_MEANS + covariance @ design.T @ (seen - design @ PRIOR_MEANS)
    spread = design @ before @ design.T + np.eye(len(seen))
    return mean, covariance, float(multivariate_normal.pdf(seen, design @ PRIOR_MEANS, spread))


@pytest.mark.parametrize("size", [0.0, 0.5, 1.4])
def test_it_agrees_with_two_models_weighed_by_their_evidence(size: float) -> None:
    design, seen = gaussian_evidence(size)
    wide_mean, wide, wide_evidence = posterior(design, seen, TRUST.sd)
    firm_mean, firm, firm_evidence = posterior(design, seen, SD_IF_IT_HOLDS)
    share = HOLDS * firm_evidence / (HOLDS * firm_evidence + (1 - HOLDS) * wide_evidence)
    mean = share * firm_mean + (1 - share) * wide_mean
    away = firm_mean - wide_mean
    covariance = share * firm + (1 - share) * wide + share * (1 - share) * np.outer(away, away)
    found_mean, found_covariance = averaged(wide_mean, wide)
    np.testing.assert_allclose(found_mean, mean, atol=1e-10)
    np.testing.assert_allclose(found_covariance, covariance, atol=1e-10)


def test_before_any_report_the_geometry_is_the_mean_and_its_sd_that_of_both_beliefs() -> None:
    believed = prior()
    assert believed.mean.tolist() == PRIOR_MEANS.tolist()
    both = HOLDS * SD_IF_IT_HOLDS**2 + (1 - HOLDS) * TRUST.sd**2
    assert believed.covariance[TERM, TERM] == pytest.approx(both, rel=1e-12)


def test_a_term_far_from_0_is_hardly_pulled_back_and_a_small_one_is() -> None:
    def kept(value: float) -> float:
        mean, covariance = PRIOR_MEANS.copy(), np.diag(PRIOR_SDS**2)
        mean[TERM], covariance[TERM, TERM] = value, 0.3**2
        return float(averaged(mean, covariance)[0][TERM]) / value

    assert kept(0.1) < 0.65
    assert kept(1.4) > 0.95
