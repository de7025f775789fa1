"""Fisher scoring to the mode of the Laplace marginal posterior, scales learned on the way.

One pass updates the reporter offsets (eliminated exactly), then the coefficients and log gaps
by a scoring step with a line search, then the scales (sd of offsets, prior scale of blocks).

References
----------
Tierney, L. and Kadane, J. (1986). Accurate approximations for posterior moments and marginal
densities. JASA 81, 82-86 (from memory).

"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from models.learning.ordinal.arrays import Floats
from models.learning.ordinal.arrow import (
    curvature_matrix,
    eliminate_offsets,
    reporter_border,
    solve_positive,
)
from models.learning.ordinal.information import (
    RowCurvature,
    expected_curvature,
    observed_curvature,
    threshold_score,
)
from models.learning.ordinal.likelihood import RowTerms
from models.learning.ordinal.offsets import OffsetState, offset_modes
from models.learning.ordinal.problem import Beliefs, Prior, Rows
from models.learning.ordinal.scales import (
    Scales,
    moved_contamination,
    moved_log_blocks,
    moved_log_sd,
)
from models.learning.ordinal.strays import Doubts, moved_doubts, no_doubts
from models.learning.ordinal.thresholds import threshold_slopes, thresholds_from_gaps

_HALVINGS = 30
_LONGEST_STEP = 5.0
_DOUBTS_SETTLED = 0.01
# Prior precision that pins every offset at zero where a model has none.
_NO_OFFSETS = 1e12


@dataclass(frozen=True)
class Point:
    """Where the search stands: parameters, scales and the offsets that belong to them."""

    parameters: Floats
    scales: Scales
    doubts: Doubts
    offsets: OffsetState
    objective: float


@dataclass(frozen=True)
class Search:
    """The problem with the rules of the search.

    `tol` is the largest change of any parameter or scale in the last pass.
    """

    rows: Rows
    prior: Prior
    beliefs: Beliefs
    tol: float
    max_iter: int

    def run(self, start: Floats, scales: Scales) -> tuple[Point, int]:
        """Search from a starting point; return the mode and the number of passes made."""
        count = self.rows.reporters.count
        doubts = no_doubts(count, self.beliefs.stray_share, self.beliefs.stray_reporters)
        point = self.evaluate(start, scales, doubts, np.zeros(count))
        passes, change = 0, np.inf
        while passes < self.max_iter and change >= self.tol:
            moved = self.one_pass(point)
            change = float(np.max(np.abs(moved.parameters - point.parameters)))
            change = max(change, moved.scales.distance(point.scales))
            change = max(change, moved.doubts.distance(point.doubts))
            point, passes = moved, passes + 1
        return point, passes

    def one_pass(self, point: Point) -> Point:
        """Return the point after one scoring step of the parameters and one of the scales."""
        information = self.information(point)
        climbed = self.climb(point, solve_positive(information, self.gradient(point)))
        # Doubts settle first: strays must not widen what is believed of all the others.
        doubts = self.moved_doubts(climbed, information)
        scales = self.moved_scales(climbed, doubts, information)
        if scales.distance(climbed.scales) == 0.0 and doubts.distance(climbed.doubts) == 0.0:
            return climbed
        return self.evaluate(climbed.parameters, scales, doubts, climbed.offsets.mode)

    def evaluate(self, parameters: Floats, scales: Scales, doubts: Doubts, mode: Floats) -> Point:
        """Evaluate the log posterior at these parameters and scales, offsets integrated out.

        `mode` (R,) is where the search for the offsets starts.
        """
        p = self.rows.n_coefficients
        rows = self.rows.with_contamination(scales.contamination)
        precision = doubts.precision(scales.log_sd)
        if self.beliefs.offset_sd == 0.0:
            precision = np.full(len(mode), _NO_OFFSETS)
        thresholds = thresholds_from_gaps(parameters[p:])
        fixed = rows.design @ parameters[:p]
        state = offset_modes(rows, thresholds, fixed, mode, precision, self.tol * 0.1)
        pull = self.prior.precision(scales.log_blocks) * np.square(parameters - self.prior.mean)
        objective = state.log_marginal() - 0.5 * float(np.sum(pull))
        return Point(parameters, scales, doubts, state, objective)

    def climb(self, point: Point, direction: Floats) -> Point:
        """Return a point at least as high along `direction`, halving the step as needed."""
        size = min(1.0, _LONGEST_STEP / float(np.max(np.abs(direction), initial=1e-300)))
        slack = 1e-10 * (1.0 + abs(point.objective))
        for _ in range(_HALVINGS):
            reached = point.parameters + size * direction
            proposal = self.evaluate(reached, point.scales, point.doubts, point.offsets.mode)
            if proposal.objective >= point.objective - slack:
                return proposal
            size *= 0.5
        return point

    def moved_scales(self, point: Point, doubts: Doubts, information: Floats) -> Scales:
        """Return the scales one step up their evidence; those not learned stay."""
        old, beliefs = point.scales, self.beliefs
        log_sd, blocks, share = old.log_sd, old.log_blocks, old.contamination
        settled = doubts.distance(point.doubts) < _DOUBTS_SETTLED
        if beliefs.learn_offset_sd and beliefs.offset_sd > 0.0 and settled:
            log_sd = moved_log_sd(beliefs, point.offsets, log_sd, doubts.of_reporter)
        if self.prior.n_blocks:
            blocks = moved_log_blocks(self.prior, blocks, point.parameters, information)
        if share > 0.0 and np.isfinite(beliefs.contamination_reports):
            share = moved_contamination(beliefs, self.rows.with_contamination(share), point.offsets)
        return Scales(log_sd, blocks, share)

    def moved_doubts(self, point: Point, information: Floats) -> Doubts:
        """Return the doubts about each reporter, judged again at this point.

        `information` (P, P) is that of the parameters: what the reports leave open.
        """
        beliefs = self.beliefs
        if beliefs.stray_share == 0.0 or beliefs.offset_sd == 0.0:
            return point.doubts
        p, scales = self.rows.n_coefficients, point.scales
        rows = self.rows.with_contamination(scales.contamination)
        return moved_doubts(
            point.doubts,
            rows,
            thresholds_from_gaps(point.parameters[p:]),
            rows.design @ point.parameters[:p],
            solve_positive(information, np.eye(len(information)))[:p, :p],
            scales.log_sd,
        )

    def gradient(self, point: Point) -> Floats:
        """Return the exact derivative of the objective by the parameters, scales held."""
        rows, state, p = self.rows, point.offsets, self.rows.n_coefficients
        corrected = _with_determinant(state, rows)
        slopes = threshold_slopes(point.parameters[p:])
        by_coefficient = rows.design.T @ -(corrected.upper + corrected.lower)
        by_gap = slopes.T @ threshold_score(corrected, rows.category, rows.n_categories)
        pull = self.prior.precision(point.scales.log_blocks) * (point.parameters - self.prior.mean)
        return np.concatenate([by_coefficient, by_gap]) - pull

    def information(self, point: Point, *, observed: bool = False) -> Floats:
        """Return the curvature of the log posterior over the parameters, offsets eliminated."""
        rows, p = self.rows, self.rows.n_coefficients
        slopes = threshold_slopes(point.parameters[p:])
        curvature = self._row_curvature(point, observed=observed)
        matrix = curvature_matrix(rows, curvature, slopes)
        if observed:
            score = threshold_score(point.offsets.terms, rows.category, rows.n_categories)
            matrix[p:, p:] -= np.diag(score @ slopes)
        border = reporter_border(rows, curvature, slopes)
        own = rows.reporters.total(-curvature.position_threshold.sum(axis=1))
        reduced = eliminate_offsets(matrix, border, own + point.offsets.precision)
        return reduced + np.diag(self.prior.precision(point.scales.log_blocks))

    def _row_curvature(self, point: Point, *, observed: bool) -> RowCurvature:
        rows, state = self.rows, point.offsets
        if observed:
            return observed_curvature(state.terms, rows.category, rows.n_categories)
        thresholds = thresholds_from_gaps(point.parameters[rows.n_coefficients :])
        noise = rows.with_contamination(point.scales.contamination).noise
        return expected_curvature(noise, thresholds, state.eta, rows.weight)


def _with_determinant(state: OffsetState, rows: Rows) -> RowTerms:
    """Return the terms with first derivatives that include the offsets' log determinant.

    The determinant moves directly with each row's limits and indirectly because the
    offset modes follow the parameters.
    """
    who, terms = rows.reporters.of_row, state.terms
    half = 0.5 / state.total[who]
    follow = state.drift[who] / state.total[who]
    counts = state.total[who] > state.precision[who]
    upper = half * (-terms.upper3 * counts - follow * (terms.upper2 + terms.mixed))
    lower = half * (-terms.lower3 * counts - follow * (terms.lower2 + terms.mixed))
    return replace(terms, upper=terms.upper - upper, lower=terms.lower - lower)


def expected_offset_sd(point: Point, log_spread: float) -> float:
    """Return the root of the offsets' expected variance, its own uncertainty included.

    `log_spread` is the sd of the belief about the log sd.
    """
    offsets, doubts = point.offsets, point.doubts
    information = offsets.log_sd_slope(doubts.of_reporter)[1] + 1.0 / log_spread**2
    # The log sd is roughly Gaussian, so the variance is log-normal.
    sound = math.exp(point.scales.log_sd + min(1.0 / information, 0.5))
    return doubts.population_sd(sound, offsets)
