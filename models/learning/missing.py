"""Filling in measurements that were not taken, with the sd of what is not known."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from models.domain.anthropometry import regression
from models.domain.foot import MEASUREMENT_NAMES
from models.learning.evidence import Column

Rows = NDArray[np.bool_]


def patterns(columns: Mapping[str, Column]) -> Iterator[tuple[Rows, tuple[str, ...]]]:
    """Yield, for every set of measurements that some rows have, those rows and the set."""
    absent = np.column_stack([np.isnan(columns[name]) for name in MEASUREMENT_NAMES])
    codes = absent @ (1 << np.arange(len(MEASUREMENT_NAMES)))
    for code in np.unique(codes).tolist():
        taken = tuple(name for bit, name in enumerate(MEASUREMENT_NAMES) if not code & (1 << bit))
        yield codes == code, taken


def filled(columns: Mapping[str, Column]) -> tuple[dict[str, Column], Column]:
    """Return the measurements without gaps, and the sd (mm) of each row's heel diagonal.

    Rows that lack the same measurements share one regression on the others (survey figures, see
    `models.domain.anthropometry`).
    """
    complete = {name: columns[name].copy() for name in MEASUREMENT_NAMES}
    diagonal_sd = np.zeros(len(complete["heel_diagonal_mm"]))
    for rows, taken in patterns(columns):
        values = {name: columns[name][rows] for name in taken}
        for name in set(MEASUREMENT_NAMES) - set(taken):
            expected = regression(name, frozenset(taken))
            complete[name][rows] = expected.predict(values)
            if name == "heel_diagonal_mm":
                diagonal_sd[rows] = expected.sd
    return complete, diagonal_sd
