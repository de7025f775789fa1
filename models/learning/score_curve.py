"""The score that a calibration expects of a depth: the curve through a picture of the reports."""

from __future__ import annotations

from functools import partial
from typing import Any

import numpy as np
from scipy.special import ndtr

from models.learning.design import Design, design
from models.learning.estimator import SCORES, Posterior, row_noise_sd
from models.learning.evidence import Column, Evidence
from models.learning.evidence_blocks import EvidenceBlocks
from models.learning.ordinal.blocks import added
from models.learning.ordinal.thresholds import thresholds_from_gaps
from models.learning.terms import COEFFICIENT_NAMES, EXCESS

REACH_MM, STEP_MM = 25.0, 2.5
"""How far from the ideal the curve goes, and in which steps."""

_SLOPE = COEFFICIENT_NAMES.index(EXCESS)
_DRAWS, _SEED = 400, 20
_BAND = (10, 90)


def score_curve(posterior: Posterior, evidence: EvidenceBlocks) -> list[dict[str, Any]]:
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


def _typical(posterior: Posterior, evidence: EvidenceBlocks) -> tuple[Column, float]:
    """Return what makes level, slope and log widths of the mean sock from terms; the noise's sd."""
    p, widths = len(COEFFICIENT_NAMES), len(posterior.mean) - len(COEFFICIENT_NAMES)
    totals = added(evidence.blocks.each(_totals)) / evidence.reports
    mean, noise = totals[:p], float(totals[p])
    squares = partial(_squares, coefficients=posterior.mean[:p], mean=mean)
    spread = sum(evidence.blocks.each(squares)) / evidence.reports
    mixing = np.zeros((2 + widths, len(posterior.mean)))
    mixing[0, :p] = mean
    mixing[1, _SLOPE] = 1.0
    mixing[2:, p:] = np.eye(widths)
    return mixing, float(np.sqrt(noise + posterior.reporter_variance + spread))


def _level(socks: Design) -> Column:
    """Return the terms (n, p) of socks at their ideal depths."""
    terms = socks.terms
    terms[:, _SLOPE] = 0.0
    return terms


def _totals(evidence: Evidence) -> Column:
    """Return the sum of each term over a block, and last that of the variance of the noise."""
    socks = design(evidence.columns)
    noise = np.square(row_noise_sd(socks.ideal_sd)).sum()
    return np.append(_level(socks).sum(axis=0), noise)


def _squares(evidence: Evidence, coefficients: Column, mean: Column) -> float:
    """Return the squared distances of a block's levels from that of the mean sock."""
    away = (_level(design(evidence.columns)) - mean) @ coefficients
    return float(np.square(away).sum())


def _expected(drawn: Column, spread: float, excess_cm: Column) -> Column:
    """Return the mean score at each depth (S,) for a level, a slope and log widths."""
    latent = drawn[0] + drawn[1] * excess_cm
    below = ndtr((thresholds_from_gaps(drawn[2:])[:, None] - latent) / spread)
    return np.asarray(SCORES[-1] - below.sum(axis=0))
