"""The terms of the regression: what each is, in which unit, and how far it may stray a priori.

A term's coefficient is in fit-score points per unit of the term. Scales and centres are round
numbers near the middle of adult hand-knit socks; they only set the unit of the prior.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from models.domain.geometry import across_mm, ideal_depth_mm
from models.domain.sections import decrease_rounds, rounds_worked
from models.domain.yarn import YARN_WEIGHTS
from models.learning.evidence import Column
from models.learning.missing import filled

Values = Mapping[str, Any]

EXCESS = "excess_depth_cm"
"""Depth over the geometry's ideal, in cm: the one term that the schedule moves."""

PRIOR_SLOPE = 0.8
"""Fit-score points per cm of excess depth before any report: a heel 6 mm off is scored half a
point off, the edge of "just right"."""


@dataclass(frozen=True)
class Term:
    """A column of the regression; `prior_sd` is in fit-score points per unit."""

    name: str
    prior_sd: float
    of: Callable[[Values], Any]


def _standard(name: str, centre: float, scale: float) -> Term:
    return Term(name, 0.2, lambda values: (values[name] - centre) / scale)


def _of_yarn(number: int) -> Term:
    return Term(
        f"yarn_weight_{number}", 0.2, lambda values: (values["yarn_weight"] == number) * 1.0
    )


TERMS = (
    Term(EXCESS, 0.24, lambda values: values[EXCESS]),
    Term("intercept", 0.35, lambda values: values[EXCESS] * 0.0 + 1.0),
    _standard("heel_diagonal_mm", 330, 22),
    _standard("foot_length_mm", 260, 17),
    _standard("foot_circumference_mm", 240, 17),
    _standard("ankle_circumference_mm", 225, 16),
    _standard("tube_mm", 215, 20),
    _standard("circumference_ease", -0.10, 0.07),
    _standard("stitches_per_10cm", 30, 5),
    *(_of_yarn(weight.number) for weight in YARN_WEIGHTS),
)

TERM_NAMES = tuple(term.name for term in TERMS)
PRIOR_SDS = np.array([term.prior_sd for term in TERMS])


def derived(values: Values) -> dict[str, Any]:
    """Return the values with what follows from them; floats or arrays, without gaps."""
    closing = _closing(values)
    across = across_mm(values["heel_stitches"], closing, values["stitches_per_10cm"])
    ideal = ideal_depth_mm(values["heel_diagonal_mm"], across)
    depth = rounds_worked(values) * 100 / values["rounds_per_10cm"]
    tube = values["heel_stitches"] * 100 / values["stitches_per_10cm"]
    return {
        **values,
        EXCESS: (depth - ideal) / 10,
        "tube_mm": tube,
        "circumference_ease": tube / values["foot_circumference_mm"] - 1,
    }


def design(columns: Mapping[str, Column]) -> tuple[Column, Column]:
    """Return the matrix of terms (rows x terms) and the sd (mm) of each row's heel diagonal."""
    complete, diagonal_sd = filled(columns)
    values = derived({**columns, **complete})
    return np.column_stack([term.of(values) for term in TERMS]), diagonal_sd


def _closing(values: Values) -> Any:
    each = values["decreases_per_round"]
    return values["heel_stitches"] // each * each - each * decrease_rounds(values)
