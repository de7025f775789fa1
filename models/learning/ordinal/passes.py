"""What the search asks of one block of rows; what blocks answer adds up.

Every reporter's rows are in one block and every offset is integrated out by itself, so likelihood,
gradient and information are sums over blocks.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from models.learning.ordinal.arrays import Floats
from models.learning.ordinal.arrow import curvature_matrix, eliminate_offsets, reporter_border
from models.learning.ordinal.information import (
    RowCurvature,
    expected_curvature,
    observed_curvature,
    threshold_score,
)
from models.learning.ordinal.likelihood import RowTerms
from models.learning.ordinal.offsets import (
    Newton,
    OffsetState,
    RowState,
    at_modes,
    row_state,
    stepped,
)
from models.learning.ordinal.problem import Rows
from models.learning.ordinal.scales import contamination_slope
from models.learning.ordinal.strays import stray_odds
from models.learning.ordinal.thresholds import threshold_slopes, thresholds_from_gaps


@dataclass(frozen=True)
class Place:
    """Where rows are looked at: coefficients and log gaps (P,), and the share of gross errors."""

    parameters: Floats
    contamination: float

    def thresholds(self, rows: Rows) -> Floats:
        """Return the thresholds (K-1,)."""
        return thresholds_from_gaps(self.parameters[rows.n_coefficients :])

    def slopes(self, rows: Rows) -> Floats:
        """Return the derivatives (K-1, K-2) of the thresholds by the log gaps."""
        return threshold_slopes(self.parameters[rows.n_coefficients :])

    def fixed(self, rows: Rows) -> Floats:
        """Return the latent position (n,) without the offsets."""
        return np.asarray(rows.design @ self.parameters[: rows.n_coefficients])


@dataclass(frozen=True)
class Settled:
    """Offsets of a block after some Newton steps, and its rows there where they may stay."""

    offsets: OffsetState
    steps: int
    at: RowState | None


@dataclass(frozen=True)
class Settle:
    """Newton steps of a block's offsets, `least` of them and until no error exceeds `tol`."""

    place: Place
    tol: float
    least: int
    keep: bool

    def __call__(self, rows: Rows, mode: Floats, precision: Floats, made: int) -> Settled:
        """Go on from `mode` (R,), which `made` steps led to."""
        rows = rows.with_contamination(self.place.contamination)
        thresholds, fixed = self.place.thresholds(rows), self.place.fixed(rows)
        mode, made = stepped(
            rows, thresholds, fixed, mode, precision, Newton(self.tol, made, self.least)
        )
        offsets, at = at_modes(rows, thresholds, fixed, mode, precision)
        return Settled(offsets, made, at if self.keep else None)


def derivatives(
    rows: Rows, offsets: OffsetState, at: RowState | None, place: Place
) -> tuple[Floats, Floats]:
    """Return gradient (P,) and expected information (P, P) of a block, the prior left out."""
    at = at or _again(rows, offsets, place)
    return gradient(rows, offsets, at, place), information(rows, offsets, at, place)


def gradient(rows: Rows, offsets: OffsetState, at: RowState | None, place: Place) -> Floats:
    """Return the derivative (P,) of a block's log marginal by the parameters."""
    at = at or _again(rows, offsets, place)
    corrected = _with_determinant(offsets, at.terms, rows)
    by_coefficient = rows.design.T @ -(corrected.upper + corrected.lower)
    score = threshold_score(corrected, rows.category, rows.n_categories)
    return np.concatenate([by_coefficient, place.slopes(rows).T @ score])


def information(
    rows: Rows,
    offsets: OffsetState,
    at: RowState | None,
    place: Place,
    *,
    observed: bool = False,
) -> Floats:
    """Return a block's curvature (P, P) over the parameters, its offsets eliminated."""
    at, p, slopes = at or _again(rows, offsets, place), rows.n_coefficients, place.slopes(rows)
    curvature = _row_curvature(rows, at, place, observed=observed)
    matrix = curvature_matrix(rows, curvature, slopes)
    if observed:
        score = threshold_score(at.terms, rows.category, rows.n_categories)
        matrix[p:, p:] -= np.diag(score @ slopes)
    border = reporter_border(rows, curvature, slopes)
    own = rows.reporters.total(-curvature.position_threshold.sum(axis=1))
    return eliminate_offsets(matrix, border, own + offsets.precision)


def contamination_sums(
    rows: Rows, offsets: OffsetState, at: RowState | None, place: Place
) -> tuple[float, float]:
    """Return a block's part of the slope by the share of gross errors, and its information."""
    rows = rows.with_contamination(place.contamination)
    at = at or _again(rows, offsets, place)
    return contamination_slope(rows, offsets, at.terms)


def odds(rows: Rows, place: Place, covariance: Floats, log_sd: float) -> Floats:
    """Return the log odds (R,) that each reporter of a block is a stray (`strays`)."""
    rows = rows.with_contamination(place.contamination)
    return stray_odds(rows, place.thresholds(rows), place.fixed(rows), covariance, log_sd)


def _again(rows: Rows, offsets: OffsetState, place: Place) -> RowState:
    """Return the rows at offsets found before, where a block that is not near kept none."""
    rows = rows.with_contamination(place.contamination)
    thresholds, fixed = place.thresholds(rows), place.fixed(rows)
    return row_state(rows, thresholds, fixed, offsets.mode)


def _row_curvature(rows: Rows, at: RowState, place: Place, *, observed: bool) -> RowCurvature:
    if observed:
        return observed_curvature(at.terms, rows.category, rows.n_categories)
    noise = rows.with_contamination(place.contamination).noise
    return expected_curvature(noise, place.thresholds(rows), at.eta, rows.weight)


def _with_determinant(state: OffsetState, terms: RowTerms, rows: Rows) -> RowTerms:
    """Return the terms with first derivatives that include the offsets' log determinant.

    The determinant moves directly with each row's limits and indirectly because the
    offset modes follow the parameters.
    """
    who = rows.reporters.of_row
    half = 0.5 / state.total[who]
    follow = state.drift[who] / state.total[who]
    counts = state.total[who] > state.precision[who]
    upper = half * (-terms.upper3 * counts - follow * (terms.upper2 + terms.mixed))
    lower = half * (-terms.lower3 * counts - follow * (terms.lower2 + terms.mixed))
    return replace(terms, upper=terms.upper - upper, lower=terms.lower - lower)
