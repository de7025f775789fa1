"""Proper scores of stated chances, and the calibration error as a diagnostic.

References
----------
Gneiting, T. and Raftery, A. (2007). Strictly proper scoring rules, prediction, and estimation.
JASA 102, 359-378 (from memory).

"""

from __future__ import annotations

import numpy as np

from models.learning.ordinal.arrays import Floats, Integers

_LEAST_CHANCE = 1e-15


def brier(chances: Floats, category: Integers) -> Floats:
    """Return the Brier score of each row, summed over categories; chances (n, K)."""
    return np.asarray(np.sum(np.square(chances - _happened(chances, category)), axis=1))


def log_score(chances: Floats, category: Integers) -> Floats:
    """Return minus the log chance of what happened, (n,)."""
    happened = chances[np.arange(len(category)), category]
    return np.asarray(-np.log(np.maximum(happened, _LEAST_CHANCE)))


def ranked_probability(chances: Floats, category: Integers) -> Floats:
    """Return the ranked probability score of each row, not divided by K-1."""
    gap = np.cumsum(chances - _happened(chances, category), axis=1)
    return np.asarray(np.sum(np.square(gap[:, :-1]), axis=1))


def expected_calibration_error(stated: Floats, reached: Floats, bins: int) -> float:
    """Return the mean distance of stated from reached, in equal-width bins of the stated.

    `reached` holds outcomes (0 or 1) or, in a simulation, true chances.
    """
    # Bins are closed on the right, as in the usual definition; zero joins the first.
    place = np.maximum(np.ceil(stated * bins).astype(np.int64) - 1, 0)
    gaps = np.bincount(place, weights=stated - reached, minlength=bins)
    return float(np.abs(gaps).sum() / len(stated))


def _happened(chances: Floats, category: Integers) -> Floats:
    return np.asarray(np.arange(chances.shape[1])[None, :] == category[:, None], dtype=np.float64)
