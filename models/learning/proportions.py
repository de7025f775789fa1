"""Do the measurements of a foot belong together? How far its proportions lie from the survey's.

Only proportions are judged: a child's foot is outside the survey of adults, and no less a foot.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtri

from models.domain.anthropometry import pooled
from models.domain.foot import MEASUREMENT_NAMES
from models.learning.evidence import Column
from models.learning.missing import patterns

CHANCE_OF_A_FOOT = 1e-8
"""Chance of a surveyed foot to be held, were feet normal. Of the 6,068 feet of the survey the
oddest is at 2e-7; a tape laid at home errs by millimetres more, which the rest allows for."""


def implausible_feet(columns: Mapping[str, Column]) -> NDArray[np.bool_]:
    """Return which rows (n,) of evidence have measurements that do not belong together."""
    held = np.zeros(len(columns[MEASUREMENT_NAMES[0]]), dtype=bool)
    for rows, taken in patterns(columns):
        if len(taken) > 1:
            feet = np.column_stack([columns[name][rows] for name in taken])
            limit = chdtri(len(taken) - 1, CHANCE_OF_A_FOOT)
            held[rows] = squared_distance(feet, taken) > limit
    return held


def squared_distance(feet: Column, taken: tuple[str, ...]) -> Column:
    """Return the squared Mahalanobis distance (n,) of feet (n, k) in mm from the survey, size free.

    It is that of the foot enlarged or shrunk to where it is nearest,
    `min_c (c x - m)' S^-1 (c x - m) = m' S^-1 m - (x' S^-1 m)^2 / x' S^-1 x`,
    about chi-squared with k - 1 degrees of freedom.
    """
    means, covariances = pooled()
    mean = np.array([means[name] for name in taken])
    inverse = np.linalg.inv([[covariances[a][b] for b in taken] for a in taken])
    along = feet @ inverse @ mean
    own = np.einsum("ij,jk,ik->i", feet, inverse, feet)
    left: Column = mean @ inverse @ mean - np.square(along) / own
    return left
