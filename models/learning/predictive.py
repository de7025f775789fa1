"""What a posterior says of scores to come: the chance of each, for whole columns of socks.

`models.learning.decide` answers one question fast; here many reports are judged at once, to ask
how well a calibration foresaw them.
"""

from __future__ import annotations

import numpy as np

from models.learning.design import design
from models.learning.estimator import LINK, SCORES, Posterior, row_noise_sd
from models.learning.evidence import Column, Evidence
from models.learning.ordinal.posterior import LaplacePosterior
from models.learning.terms import COEFFICIENT_NAMES


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


def expected_scores(chances: Column) -> tuple[Column, Column]:
    """Return mean and variance (n,) of the scores that have these chances (n, 5).

    >>> mean, variance = expected_scores(np.array([[0.0, 0.25, 0.5, 0.25, 0.0]]))
    >>> float(mean[0]), float(variance[0])
    (0.0, 0.5)
    """
    scores = np.array(SCORES, dtype=float)
    mean = chances @ scores
    return mean, chances @ np.square(scores) - np.square(mean)
