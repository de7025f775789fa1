"""One order for the same set of rows, so that a fit does not depend on how they arrived."""

from __future__ import annotations

import numpy as np

from models.learning.ordinal.arrays import Floats, Integers


def content_order(labels: Integers, category: Integers, columns: Floats) -> Integers:
    """Return the order of rows by reporter, then category, then every column (n, k).

    Rows equal in all of these are interchangeable, so their order cannot matter.
    """
    leading = np.lexsort([columns[:, 0], category, labels])
    if not _has_ties(labels[leading], category[leading], columns[leading, 0]):
        return leading.astype(np.int64)
    keys = [columns[:, k] for k in range(columns.shape[1] - 1, -1, -1)]
    return np.lexsort([*keys, category, labels]).astype(np.int64)


def _has_ties(labels: Integers, category: Integers, first: Floats) -> bool:
    """Return whether neighbours agree in all three, so further columns must decide."""
    same = (labels[1:] == labels[:-1]) & (category[1:] == category[:-1])
    return bool(np.any(same & (first[1:] == first[:-1])))
