"""The columns of the regression: what the measures say beyond the geometry.

Columns are centred and scaled by the survey's figures, or by round numbers near the middle of
adult hand-knit socks, never by the reports at hand: a coefficient means the same in every
calibration. A measurement enters as what it adds to foot length and circumference.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from models.domain.anthropometry import regression
from models.domain.geometry import across_mm, ideal_depth_mm, ideal_depth_sd_mm
from models.domain.sections import decrease_rounds, rounds_worked
from models.domain.yarn import YARN_WEIGHTS
from models.learning.evidence import Column
from models.learning.missing import filled
from models.learning.terms import (
    BLOCKS,
    BUMP_CENTRES,
    BUMPED,
    BUMPS,
    COLUMN_NAMES,
    LINEAR_COLUMNS,
    PAIRS,
    PRODUCTS,
    SHAPE,
    TRUST,
    YARN,
)

Values = Mapping[str, Any]

_FURTHEST = 3.5
"""Scaled distance from the centre beyond which nothing counts more: no row is all lever."""

_USUAL_DEPTH_CM = 7.5
_BUMP_WIDTH = 0.8
_SQUARE_SD = 1.4

_FIRST, _SECOND = np.array(PAIRS).T
_CENTRE, _SD = np.where(_FIRST == _SECOND, [[1.0], [_SQUARE_SD]], [[0.0], [1.0]])
_BUMPED = np.array(BUMPED)
_CENTRES = np.array(BUMP_CENTRES)
_WEIGHTS = np.array([weight.number for weight in YARN_WEIGHTS])

_ENDS = np.cumsum([len(block.names) for block in BLOCKS]).tolist()
_AT = {block: slice(end - len(block.names), end) for block, end in zip(BLOCKS, _ENDS, strict=True)}
"""Where the columns of each block are."""


@dataclass(frozen=True)
class Design:
    """Socks as the regression sees them, habits aside; n rows, or one sock without that axis.

    `excess` is the depth over the geometry's ideal (cm), `columns` (n, q) are those of
    `terms.COLUMN_NAMES`, `ideal_sd` is the sd of the ideal depth (cm) where the heel diagonal was
    estimated.
    """

    excess: Any
    columns: Column
    ideal_sd: Any

    @property
    def terms(self) -> Column:
        """Terms (n, p) in the order of `terms.COEFFICIENT_NAMES`, of knitters without a habit."""
        first = np.zeros((*self.columns.shape[:-1], 3))
        first[..., 0], first[..., 1] = 1.0, self.excess
        return np.concatenate([first, self.columns], axis=-1)


def _beyond(name: str, *known: str) -> Callable[[Values], Any]:
    """Return what gives a measurement's distance, in sds, from what the known ones suggest."""
    expected = regression(name, frozenset(known))
    return lambda values: (values[name] - expected.predict(values)) / expected.sd


_SHAPE: tuple[Callable[[Values], Any], ...] = (
    _beyond("foot_length_mm"),
    _beyond("foot_circumference_mm", "foot_length_mm"),
    _beyond("heel_diagonal_mm", "foot_length_mm", "foot_circumference_mm"),
    _beyond("ankle_circumference_mm", "foot_length_mm", "foot_circumference_mm"),
    lambda values: (values["across_mm"] - 138) / 12,
    lambda values: (values["ease"] + 0.10) / 0.03,
    lambda values: (values["stitches_per_10cm"] - 28) / 4.5,
)
"""In the order of `terms.SHAPE_NAMES`; each about one sd wide."""


def design(columns: Mapping[str, Column]) -> Design:
    """Return the design of evidence columns (n,), which may lack measurements."""
    complete, diagonal_sd = filled(columns)
    return design_of({**columns, **complete}, diagonal_sd)


def design_of(values: Values, diagonal_sd_mm: Any) -> Design:
    """Return the design of a sock, or of as many as `diagonal_sd_mm` has entries, without gaps.

    Every value is a float, the same for all, or an array of that length.
    """
    across = across_mm(values["heel_stitches"], _closing(values), values["stitches_per_10cm"])
    ideal = ideal_depth_mm(values["heel_diagonal_mm"], across) / 10
    tube = values["heel_stitches"] * 100 / values["stitches_per_10cm"]
    ease = tube / values["foot_circumference_mm"] - 1
    known = {**values, "across_mm": across, "ease": ease}
    columns = np.empty((*np.shape(diagonal_sd_mm), len(COLUMN_NAMES)))
    for at, of in enumerate(_SHAPE):
        columns[..., at] = of(known)
    columns[..., _AT[YARN]] = np.equal(np.asarray(values["yarn_weight"])[..., None], _WEIGHTS)
    columns[..., _AT[TRUST].start] = ideal - _USUAL_DEPTH_CM
    columns[..., :LINEAR_COLUMNS] = _kept(columns[..., :LINEAR_COLUMNS])
    shape = columns[..., _AT[SHAPE]]
    columns[..., _AT[PRODUCTS]], columns[..., _AT[BUMPS]] = _products(shape), _bumps(shape)
    return Design(
        rounds_worked(values) * 10 / values["rounds_per_10cm"] - ideal,
        columns,
        ideal_depth_sd_mm(diagonal_sd_mm) / 10,
    )


def _closing(values: Values) -> Any:
    each = values["decreases_per_round"]
    return values["heel_stitches"] // each * each - each * decrease_rounds(values)


def _kept(scaled: Column) -> Column:
    return np.minimum(np.maximum(scaled, -_FURTHEST), _FURTHEST)


def _products(shape: Column) -> Column:
    """Return products of pairs of shape terms; squares are centred and scaled to one sd."""
    products: Column = np.take(shape, _FIRST, axis=-1) * np.take(shape, _SECOND, axis=-1)
    products -= _CENTRE
    products /= _SD
    return products


def _bumps(shape: Column) -> Column:
    """Return Gaussian bumps along single shape terms."""
    away = (np.take(shape, _BUMPED, axis=-1)[..., None] - _CENTRES) / _BUMP_WIDTH
    bumps: Column = np.exp(-0.5 * away**2)
    return bumps.reshape(*shape.shape[:-1], _BUMPED.size * _CENTRES.size)
