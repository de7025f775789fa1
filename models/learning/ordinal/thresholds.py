"""Thresholds between ordered categories, written as logarithms of the gaps between them.

The logarithms keep the thresholds in order whatever the optimiser proposes. The scale is
centred (on the middle of the middle category, or on the middle threshold), so the intercept
alone carries location and the half-width of "just right" is half of the middle gap.
"""

from __future__ import annotations

import numpy as np
from scipy.special import ndtri

from models.learning.ordinal.arrays import Floats


def gap_loadings(n_categories: int) -> Floats:
    """Return the matrix that turns gaps into centred thresholds, shape (K-1, K-2).

    Raises
    ------
    ValueError
        If there are fewer than two categories.

    """
    if n_categories < 2:
        raise ValueError("an ordinal scale needs at least two categories")
    steps = np.tril(np.ones((n_categories - 1, n_categories - 2)), -1)
    middle = (n_categories - 2) // 2
    centre = steps[middle] if n_categories % 2 == 0 else (steps[middle] + steps[middle + 1]) / 2.0
    return np.asarray(steps - centre, dtype=np.float64)


def thresholds_from_gaps(log_gaps: Floats) -> Floats:
    """Return the K-1 centred thresholds, in latent units, of K-2 log gaps."""
    return gap_loadings(len(log_gaps) + 2) @ np.exp(log_gaps)


def threshold_slopes(log_gaps: Floats) -> Floats:
    """Return the derivative of the thresholds by the log gaps, shape (K-1, K-2)."""
    return gap_loadings(len(log_gaps) + 2) * np.exp(log_gaps)


def starting_log_gaps(counts: Floats) -> Floats:
    """Return log gaps that match the observed category counts under standard normal noise.

    Half a report is added to every category, so an empty category still gets a width.
    """
    shares = np.cumsum(counts + 0.5) / np.sum(counts + 0.5)
    return np.asarray(np.log(np.maximum(np.diff(ndtri(shares[:-1])), 0.05)), dtype=np.float64)
