"""The estimator: scikit-learn's BayesianRidge on what the geometry leaves unexplained.

The fit score less its prior mean (`PRIOR_SLOPE` times the excess depth) is regressed on the terms,
each scaled by its prior sd, so that one precision near 1 shrinks every coefficient to the geometry.
Gamma priors on both precisions keep ten reports from overruling it.

References
----------
MacKay 1992, Neural Computation 4:415 (evidence updates), as scikit-learn's `BayesianRidge` does
them. Sheppard 1898: rounding to whole scores adds 1/12 to a variance.

"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from sklearn.linear_model import BayesianRidge

from models.learning.evidence import Column, Evidence
from models.learning.terms import EXCESS, PRIOR_SDS, PRIOR_SLOPE, TERM_NAMES, design

NAME = "bayesian ridge on the residual from the geometry"

ROUNDING_VARIANCE = 1 / 12
PRIOR_NOISE_VARIANCE = 0.35
"""Of a latent score around its mean: an sd of 0.59, before the rounding to whole scores."""

LEAST_NOISE_VARIANCE = 0.05
_WEIGHT_OF_NOISE_PRIOR = 10.0
_WEIGHT_OF_SHRINKAGE_PRIOR = 10.0


@dataclass(frozen=True)
class Posterior:
    """What is believed of the coefficients: fit-score points per unit of each term.

    `mean` has one entry a term of `TERM_NAMES`, `covariance` is terms x terms, `noise_variance`
    is that of one sock's latent score.
    """

    mean: Column
    covariance: Column
    noise_variance: float


def prior() -> Posterior:
    """Return what is believed before the first report: the geometry."""
    return Posterior(_prior_mean(), np.diag(PRIOR_SDS**2), PRIOR_NOISE_VARIANCE)


def fit(evidence: Evidence) -> Posterior:
    """Return what is believed after the evidence; the same rows give the same bits."""
    if evidence.reports == 0:
        return prior()
    matrix, _ = design(evidence.columns)
    residual = evidence.score - matrix @ _prior_mean()
    ridge = _ridge().fit(matrix * PRIOR_SDS, residual)
    noise = max(1 / ridge.alpha_ - ROUNDING_VARIANCE, LEAST_NOISE_VARIANCE)
    covariance = ridge.sigma_ * np.outer(PRIOR_SDS, PRIOR_SDS)
    return Posterior(_prior_mean() + ridge.coef_ * PRIOR_SDS, covariance, float(noise))


def _ridge() -> BayesianRidge:
    noise = PRIOR_NOISE_VARIANCE + ROUNDING_VARIANCE
    return BayesianRidge(
        alpha_1=_WEIGHT_OF_NOISE_PRIOR,
        alpha_2=_WEIGHT_OF_NOISE_PRIOR * noise,
        lambda_1=_WEIGHT_OF_SHRINKAGE_PRIOR,
        lambda_2=_WEIGHT_OF_SHRINKAGE_PRIOR,
        alpha_init=1 / noise,
        lambda_init=1.0,
        fit_intercept=False,
        max_iter=100,
        tol=1e-6,
    )


def _prior_mean() -> Column:
    mean = np.zeros(len(TERM_NAMES))
    mean[TERM_NAMES.index(EXCESS)] = PRIOR_SLOPE
    return mean
