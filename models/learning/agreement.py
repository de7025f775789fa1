"""Whether the reports on one size agree with each other, as far as people agree at all."""

from __future__ import annotations

from math import sqrt

import numpy as np

from models.learning.estimator import Posterior
from models.learning.evidence import Evidence
from models.learning.predictive import expected_scores, score_chances

_LEAST_EXCESS = 0.5
_SDS = 3.0


def contradict(posterior: Posterior, evidence: Evidence) -> bool:
    """Return whether scores lie further from what is expected than people and socks explain.

    Squared distances over expected variances are 1 on average, with a variance of about 2 a report;
    the reports contradict where the average is 1.5 and more than three standard errors above 1.
    """
    if evidence.reports == 0:
        return False
    mean, variance = expected_scores(score_chances(posterior, evidence))
    distance = float(np.mean(np.square(evidence.score - mean) / variance))
    return distance > 1 + max(_LEAST_EXCESS, _SDS * sqrt(2 / evidence.reports))
