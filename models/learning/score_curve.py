"""The score that a calibration expects of a depth: the curve through a picture of the reports."""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.special import ndtr

from models.learning.design import design
from models.learning.estimator import SCORES, Posterior, row_noise_sd
from models.learning.evidence import Column, Evidence
from models.learning.ordinal.thresholds import thresholds_from_gaps
from models.learning.terms import COEFFICIENT_NAMES, EXCESS

REACH_MM, STEP_MM = 25.0, 2.5
"""How far from the ideal the curve goes, and in which steps."""

_SLOPE = COEFFICIENT_NAMES.index(EXCESS)
_DRAWS, _SEED = 400, 20
_BAND = (10, 90)


def score_curve(posterior: Posterior, evidence: Evidence) -> list[dict[str, Any]]:
    """Return the expected score over excess depth as JSON values, for socks like these.

    Each point has its `excess_mm`, the `expected` score of a reporter not met before, and `low` and
    `high`, between which it lies with 80 % over what the calibration leaves open. All but the depth
    is as in the evidence: its mean, with the spread about it as one more source of noise. Habits
    are left out, so the curve says what a change of depth does, not who knits how deep.
    """
    excess = np.arange(-REACH_MM, REACH_MM + STEP_MM, STEP_MM)
    mixing, spread = _typical(posterior, evidence)
    mean, covariance = mixing @ posterior.mean, mixing @ posterior.covariance @ mixing.T
    draws = np.random.default_rng(_SEED).multivariate_normal(mean, covariance, _DRAWS)
    found = np.array([_expected(one, spread, excess / 10) for one in (mean, *draws)])
    found *= 1 - posterior.contamination
    low, high = np.percentile(found[1:], _BAND, axis=0)
    names = ("excess_mm", "expected", "low", "high")
    rows = zip(excess, found[0], low, high, strict=True)
    return [dict(zip(names, map(float, row), strict=True)) for row in rows]


def _typical(posterior: Posterior, evidence: Evidence) -> tuple[Column, float]:
    """Return what makes level, slope and log widths of the mean sock from terms; the noise's sd."""
    socks, p = design(evidence.columns), len(COEFFICIENT_NAMES)
    terms = socks.terms
    terms[:, _SLOPE] = 0.0
    widths = len(posterior.mean) - p
    mixing = np.zeros((2 + widths, len(posterior.mean)))
    mixing[0, :p] = terms.mean(axis=0)
    mixing[1, _SLOPE] = 1.0
    mixing[2:, p:] = np.eye(widths)
    levels = terms @ posterior.mean[:p]
    noise = float(np.square(row_noise_sd(socks.ideal_sd)).mean())
    return mixing, float(np.sqrt(noise + posterior.reporter_variance + levels.var()))


def _expected(drawn: Column, spread: float, excess_cm: Column) -> Column:
    """Return the mean score at each depth (S,) for a level, a slope and log widths."""
    latent = drawn[0] + drawn[1] * excess_cm
    below = ndtr((thresholds_from_gaps(drawn[2:])[:, None] - latent) / spread)
    return np.asarray(SCORES[-1] - below.sum(axis=0))
