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
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from models.learning.ordinal.arrays import Floats
from models.learning.ordinal.arrow import solve_positive
from models.learning.ordinal.blocks import added
from models.learning.ordinal.offsets import OffsetState, RowState
from models.learning.ordinal.passes import (
    Place,
    contamination_sums,
    derivatives,
    gradient,
    information,
    odds,
)
from models.learning.ordinal.problem import Beliefs, Prior
from models.learning.ordinal.row_blocks import RowBlocks
from models.learning.ordinal.scales import (
    Scales,
    moved_contamination,
    moved_log_blocks,
    moved_log_sd,
)
from models.learning.ordinal.strays import Doubts, moved_doubts, no_doubts

_HALVINGS = 30
_LONGEST_STEP = 5.0
_DOUBTS_SETTLED = 0.01
_MANY_PASSES, _SHORT = 100, 0.2
# Prior precision that pins every offset at zero where a model has none.
_NO_OFFSETS = 1e12


@dataclass(frozen=True)
class Point:
    """Where the search stands: parameters, scales and the offsets that belong to them.

    `at` holds each block's rows at the offsets, where they may stay.
    """

    parameters: Floats
    scales: Scales
    doubts: Doubts
    offsets: OffsetState
    at: Sequence[RowState | None]
    objective: float

    @property
    def place(self) -> Place:
        """Where rows are looked at from here."""
        return Place(self.parameters, self.scales.contamination)


@dataclass(frozen=True)
class Search:
    """The problem with the rules of the search.

    `tol` is the largest change of any parameter or scale in the last pass.
    """

    rows: RowBlocks
    prior: Prior
    beliefs: Beliefs
    tol: float
    max_iter: int

    def run(self, start: Floats, scales: Scales) -> tuple[Point, int]:
        """Search from a starting point; return the mode and the number of passes made."""
        count = self.rows.reporters
        doubts = no_doubts(count, self.beliefs.stray_share, self.beliefs.stray_reporters)
        point = self.evaluate(start, scales, doubts, np.zeros(count))
        passes, change = 0, np.inf
        while passes < self.max_iter and change >= self.tol:
            # Scales that are still going round by then go too far in every step.
            stride = 1.0 if passes < _MANY_PASSES else _SHORT
            moved = self.one_pass(point, stride)
            change = float(np.max(np.abs(moved.parameters - point.parameters)))
            change = max(change, moved.scales.distance(point.scales) / stride)
            change = max(change, moved.doubts.distance(point.doubts))
            point, passes = moved, passes + 1
        return point, passes

    def one_pass(self, point: Point, stride: float = 1.0) -> Point:
        """Return the point after one scoring step of the parameters and one of the scales.

        `stride` is the share of their step that scales go.
        """
        uphill, curved = self.derivatives(point)
        climbed = self.climb(point, solve_positive(curved, uphill))
        # Doubts settle first: strays must not widen what is believed of all the others.
        doubts = self.moved_doubts(climbed, curved)
        scales = climbed.scales.towards(self.moved_scales(climbed, doubts, curved), stride)
        if scales.distance(climbed.scales) == 0.0 and doubts.distance(climbed.doubts) == 0.0:
            return climbed
        return self.evaluate(climbed.parameters, scales, doubts, climbed.offsets.mode)

    def evaluate(self, parameters: Floats, scales: Scales, doubts: Doubts, mode: Floats) -> Point:
        """Evaluate the log posterior at these parameters and scales, offsets integrated out.

        `mode` (R,) is where the search for the offsets starts.
        """
        precision = doubts.precision(scales.log_sd)
        if self.beliefs.offset_sd == 0.0:
            precision = np.full(len(mode), _NO_OFFSETS)
        place = Place(parameters, scales.contamination)
        offsets, at = self.rows.settled(place, mode, precision, self.tol * 0.1)
        pull = self.prior.precision(scales.log_blocks) * np.square(parameters - self.prior.mean)
        objective = offsets.log_marginal() - 0.5 * float(np.sum(pull))
        return Point(parameters, scales, doubts, offsets, at, objective)

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
            share = moved_contamination(beliefs, share, self.contamination_sums(point))
        return Scales(log_sd, blocks, share)

    def moved_doubts(self, point: Point, information: Floats) -> Doubts:
        """Return the doubts about each reporter, judged again at this point.

        `information` (P, P) is that of the parameters: what the reports leave open.
        """
        beliefs = self.beliefs
        if beliefs.stray_share == 0.0 or beliefs.offset_sd == 0.0:
            return point.doubts
        p = self.rows.n_coefficients
        work = partial(
            odds,
            place=point.place,
            covariance=solve_positive(information, np.eye(len(information)))[:p, :p],
            log_sd=point.scales.log_sd,
        )
        return moved_doubts(point.doubts, np.concatenate(self.rows.blocks.each(work)))

    def contamination_sums(self, point: Point) -> tuple[float, float]:
        """Return slope and information of the share of gross errors over all rows."""
        work = partial(contamination_sums, place=point.place)
        slopes, known = zip(*self.rows.asked(work, point.offsets, point.at), strict=True)
        return sum(slopes), sum(known)

    def derivatives(self, point: Point) -> tuple[Floats, Floats]:
        """Return gradient and information at a point, from one look at the rows."""
        work = partial(derivatives, place=point.place)
        uphill, curved = zip(*self.rows.asked(work, point.offsets, point.at), strict=True)
        return added(uphill) - self._pull(point), added(curved) + self._held(point)

    def gradient(self, point: Point) -> Floats:
        """Return the exact derivative of the objective by the parameters, scales held."""
        work = partial(gradient, place=point.place)
        return added(self.rows.asked(work, point.offsets, point.at)) - self._pull(point)

    def information(self, point: Point, *, observed: bool = False) -> Floats:
        """Return the curvature of the log posterior over the parameters, offsets eliminated."""
        work = partial(information, place=point.place, observed=observed)
        return added(self.rows.asked(work, point.offsets, point.at)) + self._held(point)

    def _pull(self, point: Point) -> Floats:
        away = point.parameters - self.prior.mean
        return self.prior.precision(point.scales.log_blocks) * away

    def _held(self, point: Point) -> Floats:
        return np.diag(self.prior.precision(point.scales.log_blocks))


def expected_offset_sd(point: Point, log_spread: float) -> float:
    """Return the root of the offsets' expected variance, its own uncertainty included.

    `log_spread` is the sd of the belief about the log sd.
    """
    offsets, doubts = point.offsets, point.doubts
    information = offsets.log_sd_slope(doubts.of_reporter)[1] + 1.0 / log_spread**2
    # The log sd is roughly Gaussian, so the variance is log-normal.
    sound = math.exp(point.scales.log_sd + min(1.0 / information, 0.5))
    return doubts.population_sd(sound, offsets)
