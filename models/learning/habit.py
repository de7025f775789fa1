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

from dataclasses import dataclass

import numpy as np

from models.learning.ordinal.arrays import Floats
from models.learning.ordinal.arrow import solve_positive
from models.learning.ordinal.reporters import Reporters

# Ridge, in reports, that keeps few reports from explaining themselves away.
_RIDGE = 5.0
# A reporter's mean is believed as if one more report with no excess stood beside it.
_EXTRA_REPORTS = 1.0
# The variance within a reporter before any is seen, cm squared, worth this many reports.
_WITHIN, _WITHIN_REPORTS = 0.25, 4.0


@dataclass(frozen=True)
class Habit:
    """Habit of each row's reporter (cm, (n,)) and the variance of true habits (cm squared)."""

    of_row: Floats
    variance: float


def habits(excess: Floats, columns: Floats, weight: Floats, reporters: Reporters) -> Habit:
    """Estimate habits from `excess` (n,) cm over geometry and linear `columns` (n, q).

    Rows of one reporter are adjacent, as `reporters` says; `weight` (n,) is what each row has
    to say in what the measures explain.
    """
    design = np.column_stack([np.ones(len(excess)), columns])
    weighted = weight[:, None] * design
    gram = design.T @ weighted
    ridge = np.diag(np.concatenate([[1e-3], np.full(columns.shape[1], _RIDGE)]))
    residual = excess - design @ solve_positive(gram + ridge, weighted.T @ excess)
    used = float(np.trace(solve_positive(gram + ridge, gram)))
    counts = reporters.total(np.ones(len(excess)))
    sums = reporters.total(residual)
    shrunk = sums / (counts + _EXTRA_REPORTS)
    variance = _between(residual, sums / counts, counts, used, reporters)
    return Habit(shrunk[reporters.of_row], variance)


def _between(
    residual: Floats, means: Floats, counts: Floats, used: float, reporters: Reporters
) -> float:
    """Return the variance between reporters by moments, freed of the variance within them."""
    n, count = len(residual), reporters.count
    inside = float(np.sum(np.square(residual - means[reporters.of_row])))
    within = (inside + _WITHIN * _WITHIN_REPORTS) / (n - count + _WITHIN_REPORTS)
    # The columns vary mostly between reporters, so they use up reporters, not reports.
    lost = min(count / max(count - used, 1.0), 2.0)
    total = float(np.sum(counts * np.square(means))) / n * lost
    return max(0.0, total - within * count / n)
