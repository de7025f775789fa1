"""What the estimator's inputs become before the search: checked, numbered and ordered."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from models.learning.ordinal.arrays import Floats, Integers
from models.learning.ordinal.laplace import Search
from models.learning.ordinal.likelihood import Noise
from models.learning.ordinal.links import Link
from models.learning.ordinal.ordering import content_order
from models.learning.ordinal.problem import Rows
from models.learning.ordinal.reporters import Reporters
from models.learning.ordinal.scales import Scales

# Rows that settle where to start; more of them start from a fit to some of their reporters.
ENOUGH_TO_START = 8_000


def per_row(values: ArrayLike | None, n: int) -> Floats:
    """Return one number per row, ones where nothing was given.

    Raises
    ------
    ValueError
        If the length is not `n`.

    """
    filled = np.ones(n) if values is None else np.asarray(values, dtype=np.float64)
    if filled.shape != (n,):
        raise ValueError(f"expected one number for each of {n} rows, got shape {filled.shape}")
    return filled


def weights(values: ArrayLike | None, n: int) -> Floats:
    """Return the weight of each row.

    Raises
    ------
    ValueError
        If the length is not `n`, a weight is negative, or all are zero.

    """
    weight = per_row(values, n)
    if np.any(weight < 0.0) or not np.any(weight > 0.0):
        raise ValueError("sample weights must not be negative, and not every one zero")
    return weight


def numbered(target: Any, listed: ArrayLike | None) -> tuple[Any, Integers]:
    """Return the ordered classes and each row's place among them.

    Raises
    ------
    ValueError
        If there is one class only and none are listed, or one occurs that is not listed.

    """
    if listed is None:
        seen, category = np.unique(target, return_inverse=True)
        if len(seen) < 2:
            raise ValueError("the classes must be at least two; got one class only")
        return seen, category.astype(np.int64)
    classes = np.asarray(listed)
    match = target[:, None] == classes[None, :]
    if not np.all(match.any(axis=1)):
        raise ValueError("y holds a class that is not among the listed classes")
    return classes, np.argmax(match, axis=1).astype(np.int64)


def gathered(groups: ArrayLike | None, n: int) -> tuple[Any, Integers]:
    """Return the reporters and each row's place among them; one nameless reporter for None.

    Raises
    ------
    ValueError
        If there is not one reporter for each row.

    """
    if groups is None:
        return np.zeros(1), np.zeros(n, dtype=np.int64)
    names = np.asarray(groups)
    if names.shape != (n,):
        raise ValueError(f"expected one reporter for each of {n} rows, got {names.shape}")
    reporters, labels = np.unique(names, return_inverse=True)
    return reporters, labels.astype(np.int64)


@dataclass(frozen=True)
class Shape:
    """What all rows of a fit have in common: link, share of gross errors, number of categories."""

    link: Link
    contamination: float
    n_categories: int


def rows_in_order(columns: Floats, category: Integers, labels: Integers, shape: Shape) -> Rows:
    """Return rows in an order that only what they say decides, those of one reporter adjacent.

    `columns` (n, p + 2) end with the sd of each row's noise and its weight.
    """
    order = content_order(labels, category, columns)
    columns = columns[order]
    return Rows(
        np.column_stack([np.ones(len(columns)), columns[:, :-2]]),
        category[order],
        columns[:, -1],
        Noise(shape.link, shape.contamination, columns[:, -2]),
        Reporters.from_sorted(labels[order]),
        shape.n_categories,
    )


def started(search: Search, scales: Scales) -> tuple[Floats, Scales]:
    """Return where to start: the prior, or with many rows the fit to some of the reporters."""
    start = search.prior.mean.copy()
    step = search.rows.reports // ENOUGH_TO_START
    if step < 2:
        return start, scales
    some = replace(search, rows=search.rows.every(step))
    point, _ = some.run(start, scales)
    return point.parameters, point.scales
