"""Filling in measurements that were not taken, with the sd of what is not known."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from models.domain.anthropometry import regression
from models.domain.foot import MEASUREMENT_NAMES
from models.learning.evidence import Column


def filled(columns: Mapping[str, Column]) -> tuple[dict[str, Column], Column]:
    """Return the measurements without gaps, and the sd (mm) of each row's heel diagonal.

    Rows that lack the same measurements share one regression on the others (survey figures, see
    `models.domain.anthropometry`).
    """
    complete = {name: columns[name].copy() for name in MEASUREMENT_NAMES}
    diagonal_sd = np.zeros(len(complete["heel_diagonal_mm"]))
    absent = np.column_stack([np.isnan(columns[name]) for name in MEASUREMENT_NAMES])
    for pattern in np.unique(absent, axis=0):
        rows = (absent == pattern).all(axis=1)
        _fill(complete, diagonal_sd, rows, pattern)
    return complete, diagonal_sd


def _fill(
    complete: dict[str, Column],
    diagonal_sd: Column,
    rows: NDArray[np.bool_],
    pattern: NDArray[np.bool_],
) -> None:
    """Fill one pattern of gaps in place."""
    missing = [name for name, gap in zip(MEASUREMENT_NAMES, pattern, strict=True) if gap]
    given = frozenset(MEASUREMENT_NAMES) - frozenset(missing)
    taken = {name: complete[name][rows] for name in given}
    for name in missing:
        expected = regression(name, given)
        complete[name][rows] = expected.predict(taken)
        if name == "heel_diagonal_mm":
            diagonal_sd[rows] = expected.sd
