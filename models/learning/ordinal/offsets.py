"""Reporter offsets: integrated out by Laplace's method, one number per reporter at a time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.learning.ordinal.arrays import Floats
from models.learning.ordinal.likelihood import RowTerms, position_terms, row_terms
from models.learning.ordinal.problem import Rows

_INNER_STEPS = 50
_LARGEST_STEP = 1.0


@dataclass(frozen=True)
class OffsetState:
    """Modes of the offsets with what the marginal likelihood needs, each of shape (R,).

    `precision` is the prior's, `total` adds the curvature of the likelihood, `drift` is
    the derivative of that curvature by the offset. `terms` belong to the rows at the modes.
    """

    mode: Floats
    precision: Floats
    total: Floats
    drift: Floats
    terms: RowTerms
    eta: Floats

    def log_marginal(self) -> float:
        """Laplace log likelihood of all rows, offsets integrated out."""
        penalty = 0.5 * np.sum(self.precision * np.square(self.mode))
        width = 0.5 * np.sum(np.log(self.total / self.precision))
        return float(np.sum(self.terms.log_chance) - penalty - width)

    def log_sd_slope(self, doubt: Floats) -> tuple[float, float]:
        """First derivative of `log_marginal` by the log sd, and its Fisher information.

        Each reporter counts as much as `doubt` (R,) leaves; without doubts it is exact.
        """
        share = self.precision / self.total
        moved = self.precision * self.mode / self.total
        slope = self.precision * np.square(self.mode) - 1.0 + share
        slope = slope - self.drift * moved / self.total
        information = 2.0 * np.square(1.0 - share)
        return float(np.sum((1.0 - doubt) * slope)), float(np.sum((1.0 - doubt) * information))


def offset_modes(
    rows: Rows, thresholds: Floats, fixed: Floats, start: Floats, precision: Floats, tol: float
) -> OffsetState:
    """Find every reporter's offset at once by safeguarded Newton steps.

    Parameters
    ----------
    rows : Rows
        What was reported, by whom.
    thresholds : array (K-1,)
        In latent units.
    fixed : array (n,)
        Latent position without the offsets.
    start, precision : arrays (R,)
        Starting offsets and their prior precision (latent units, inverse squared).
    tol : float
        Largest error left in any offset.


    """
    mode, who = start, rows.reporters
    for _ in range(_INNER_STEPS):
        eta = fixed + mode[who.of_row]
        slope, bend = position_terms(rows.noise, thresholds, eta, rows.category, rows.weight)
        total = precision + np.maximum(who.total(bend), 0.0)
        step = (who.total(slope) - precision * mode) / total
        step = np.clip(step, -_LARGEST_STEP, _LARGEST_STEP)
        mode = mode + step
        # Newton's error after a step is about its square.
        if float(np.max(np.abs(step))) ** 2 < tol:
            break
    return _state(rows, thresholds, fixed, mode, precision)


def _state(
    rows: Rows, thresholds: Floats, fixed: Floats, mode: Floats, precision: Floats
) -> OffsetState:
    """Evaluate everything at these offsets."""
    who = rows.reporters
    eta = fixed + mode[who.of_row]
    terms = row_terms(rows.noise, thresholds, eta, rows.category, rows.weight)
    curvature = who.total(terms.curvature)
    # Contamination makes a far outlier curve the wrong way; it then says nothing of width.
    usable = curvature > 0.0
    drift = np.where(usable, who.total(terms.upper3 + terms.lower3), 0.0)
    total = precision + np.where(usable, curvature, 0.0)
    return OffsetState(mode, precision, total, drift, terms, eta)
