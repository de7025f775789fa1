"""Reporter habit: how much deeper than the measures explain someone knits anyway.

Where knitters know their feet, depth follows need, and a plain regression reads "deeper socks on
deeper feet fit as well" as "depth hardly matters". A reporter's mean unexplained excess, entered
beside the excess itself, leaves the slope to be judged within reporters.

References
----------
Mundlak, Y. (1978). On the pooling of time series and cross section data. Econometrica 46, 69-85
(from memory).

"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, Protocol

import numpy as np

from models.learning.ordinal.arrays import Floats
from models.learning.ordinal.arrow import solve_positive
from models.learning.ordinal.blocks import Blocks, added
from models.learning.ordinal.reporters import Reporters

# Ridge, in reports, that keeps few reports from explaining themselves away.
_RIDGE = 5.0
# A reporter's mean is believed as if one more report with no excess stood beside it.
_EXTRA_REPORTS = 1.0
# The variance within a reporter before any is seen, cm squared, worth this many reports.
_WITHIN, _WITHIN_REPORTS = 0.25, 4.0


class Depths(Protocol):
    """What habits are found from, rows of one reporter adjacent as `reporters` says.

    `excess` (n,) is in cm over geometry, `linear` (n, q) are the linear columns, `weight` (n,) is
    what each row has to say in what the measures explain.
    """

    @property
    def excess(self) -> Floats:
        """See above."""

    @property
    def linear(self) -> Floats:
        """See above."""

    @property
    def weight(self) -> Floats:
        """See above."""

    @property
    def reporters(self) -> Reporters:
        """See above."""


@dataclass(frozen=True)
class Habits:
    """Habit of each reporter (cm) by block, and the variance of true habits (cm squared)."""

    of_reporter: Sequence[Floats]
    variance: float


@dataclass(frozen=True)
class _Left:
    """What measures leave of a block's depths: sums and counts (R,), squares about the means."""

    sums: Floats
    counts: Floats
    inside: float


def habits(blocks: Blocks[Any]) -> Habits:
    """Estimate habits from blocks of `Depths`."""
    grams, rights = zip(*blocks.each(_explained), strict=True)
    gram, right = added(grams), added(rights)
    ridged = gram + np.diag(np.concatenate([[1e-3], np.full(len(gram) - 1, _RIDGE)]))
    used = float(np.trace(solve_positive(ridged, gram)))
    left = blocks.each(partial(_left, coefficients=solve_positive(ridged, right)))
    shrunk = [one.sums / (one.counts + _EXTRA_REPORTS) for one in left]
    return Habits(shrunk, _between(left, used))


def _explained(depths: Depths) -> tuple[Floats, Floats]:
    """Return the weighted products of the columns with each other, and with the excess."""
    design = _design(depths)
    weighted = depths.weight[:, None] * design
    return design.T @ weighted, weighted.T @ depths.excess


def _left(depths: Depths, coefficients: Floats) -> _Left:
    residual, who = depths.excess - _design(depths) @ coefficients, depths.reporters
    counts, sums = who.total(np.ones(len(residual))), who.total(residual)
    inside = float(np.sum(np.square(residual - (sums / counts)[who.of_row])))
    return _Left(sums, counts, inside)


def _design(depths: Depths) -> Floats:
    return np.column_stack([np.ones(len(depths.excess)), depths.linear])


def _between(left: Sequence[_Left], used: float) -> float:
    """Return the variance between reporters by moments, freed of the variance within them."""
    sums, counts = (np.concatenate([getattr(one, of) for one in left]) for of in ("sums", "counts"))
    n, count, inside = int(counts.sum()), len(counts), sum(one.inside for one in left)
    within = (inside + _WITHIN * _WITHIN_REPORTS) / (n - count + _WITHIN_REPORTS)
    # The columns vary mostly between reporters, so they use up reporters, not reports.
    lost = min(count / max(count - used, 1.0), 2.0)
    total = float(np.sum(counts * np.square(sums / counts))) / n * lost
    return max(0.0, total - within * count / n)
