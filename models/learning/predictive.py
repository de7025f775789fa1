"""What a posterior says of scores to come: the chance of each, for whole columns of socks.

`models.learning.decide` answers one question fast; here many reports are judged at once, to ask
how well a calibration foresaw them.
"""

from __future__ import annotations

import numpy as np

from models.learning.design import design
from models.learning.estimator import LINK, SCORES, Posterior, prior, row_noise_sd
from models.learning.evidence import Column, Evidence
from models.learning.fieller import Ratio
from models.learning.needed import Z_80
from models.learning.ordinal.posterior import LaplacePosterior
from models.learning.terms import COEFFICIENT_NAMES, EXCESS

_SLOPE = COEFFICIENT_NAMES.index(EXCESS)


def score_chances(posterior: Posterior, evidence: Evidence) -> Column:
    """Return the chance of each score of `SCORES`, (n, 5), for reporters not met before.

    Offset and habit of who reports are integrated out, and the share of gross errors is spread
    over all scores: these are chances of what will be reported. The scores in the evidence are not
    looked at.
    """
    socks = design(evidence.columns)
    n = evidence.reports
    laplace = LaplacePosterior(
        LINK, posterior.mean, posterior.covariance, len(COEFFICIENT_NAMES), posterior.offset_sd
    )
    strangers = np.full(n, posterior.reporter_variance)
    below = laplace.cumulative(socks.terms, row_noise_sd(socks.ideal_sd), np.zeros(n), strangers)
    edges = np.hstack([np.zeros((n, 1)), below, np.ones((n, 1))])
    chances = np.maximum(np.diff(edges), 0.0)
    sound = chances / chances.sum(axis=1, keepdims=True)
    gross = posterior.contamination
    mixed: Column = (1 - gross) * sound + gross / len(SCORES)
    return mixed


def rounds_beyond(posterior: Posterior, evidence: Evidence) -> Column:
    """Return how many rounds of knitting deeper each sock is than wanted, (n,); negative if less.

    Wanted is the depth whose expected latent fit is in the middle of "just right". Where the
    slope's sign is not established, geometry answers in the posterior's place, as it would answer
    a question.
    """
    slope = float(posterior.mean[_SLOPE])
    established = Ratio(0.0, slope, 0.0, 0.0, float(posterior.covariance[_SLOPE, _SLOPE]))
    if slope <= 0 or established.interval(Z_80) is None:
        posterior = prior()
    mean = posterior.mean[: len(COEFFICIENT_NAMES)]
    beyond_cm = design(evidence.columns).terms @ mean / mean[_SLOPE]
    return np.asarray(beyond_cm * evidence.columns["rounds_per_10cm"] / 10)


def expected_scores(chances: Column) -> tuple[Column, Column]:
    """Return mean and variance (n,) of the scores that have these chances (n, 5).

    >>> mean, variance = expected_scores(np.array([[0.0, 0.25, 0.5, 0.25, 0.0]]))
    >>> float(mean[0]), float(variance[0])
    (0.0, 0.5)
    """
    scores = np.array(SCORES, dtype=float)
    mean = chances @ scores
    return mean, chances @ np.square(scores) - np.square(mean)
