"""Reporter offsets: integrated out by Laplace's method, one number per reporter at a time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from models.learning.ordinal.arrays import Floats, Integers
from models.learning.ordinal.likelihood import RowTerms, position_terms, row_terms
from models.learning.ordinal.problem import Rows

_INNER_STEPS = 50
_LARGEST_STEP = 1.0


@dataclass(frozen=True)
class OffsetState:
    """Modes of the offsets with what the marginal likelihood needs, each of shape (R,).

    `precision` is the prior's, `total` adds the curvature of the likelihood, `drift` is
    the derivative of that curvature by the offset. `log_chance` is the log likelihood of all
    rows at the modes.
    """

    mode: Floats
    precision: Floats
    total: Floats
    drift: Floats
    log_chance: float

    @classmethod
    def joined(cls, parts: Sequence[OffsetState]) -> OffsetState:
        """Return the offsets of several blocks, in their order, as one."""
        mode, precision, total, drift = (
            np.concatenate([getattr(part, name) for part in parts])
            for name in ("mode", "precision", "total", "drift")
        )
        return cls(mode, precision, total, drift, sum(part.log_chance for part in parts))

    def split(self, ends: Integers) -> list[OffsetState]:
        """Return the offsets of each block that ends before these reporters.

        The log likelihood stays with the whole: 0 in the parts.
        """
        arrays = (self.mode, self.precision, self.total, self.drift)
        cut = zip(*(np.split(values, ends[:-1]) for values in arrays), strict=True)
        return [
            OffsetState(mode, precision, total, drift, 0.0) for mode, precision, total, drift in cut
        ]

    def log_marginal(self) -> float:
        """Laplace log likelihood of all rows, offsets integrated out."""
        penalty = 0.5 * np.sum(self.precision * np.square(self.mode))
        width = 0.5 * np.sum(np.log(self.total / self.precision))
        return float(self.log_chance - penalty - width)

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


@dataclass(frozen=True)
class RowState:
    """Rows at their reporters' modes: their terms, and their latent positions (n,)."""

    terms: RowTerms
    eta: Floats


@dataclass(frozen=True)
class Newton:
    """When steps end: no error exceeds `tol`, and `least` are made, those `made` before counted."""

    tol: float
    made: int = 0
    least: int = 1


def offset_modes(
    rows: Rows, thresholds: Floats, fixed: Floats, start: Floats, precision: Floats, tol: float
) -> tuple[OffsetState, RowState]:
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
    mode, _ = stepped(rows, thresholds, fixed, start, precision, Newton(tol))
    return at_modes(rows, thresholds, fixed, mode, precision)


def stepped(
    rows: Rows, thresholds: Floats, fixed: Floats, mode: Floats, precision: Floats, until: Newton
) -> tuple[Floats, int]:
    """Return the offsets (R,) after Newton steps, and how many of them were made.

    Blocks that make the same number of steps find what one block of all rows finds.
    """
    who, made, settled = rows.reporters, until.made, until.made > 0
    while made < _INNER_STEPS and not (settled and made >= until.least):
        eta = fixed + mode[who.of_row]
        slope, bend = position_terms(rows.noise, thresholds, eta, rows.category, rows.weight)
        total = precision + np.maximum(who.total(bend), 0.0)
        step = (who.total(slope) - precision * mode) / total
        step = np.clip(step, -_LARGEST_STEP, _LARGEST_STEP)
        mode, made = mode + step, made + 1
        # Newton's error after a step is about its square.
        settled = float(np.max(np.abs(step))) ** 2 < until.tol
    return mode, made


def at_modes(
    rows: Rows, thresholds: Floats, fixed: Floats, mode: Floats, precision: Floats
) -> tuple[OffsetState, RowState]:
    """Evaluate everything at these offsets."""
    who, at = rows.reporters, row_state(rows, thresholds, fixed, mode)
    curvature = who.total(at.terms.curvature)
    # Contamination makes a far outlier curve the wrong way; it then says nothing of width.
    usable = curvature > 0.0
    drift = np.where(usable, who.total(at.terms.upper3 + at.terms.lower3), 0.0)
    total = precision + np.where(usable, curvature, 0.0)
    log_chance = float(np.sum(at.terms.log_chance))
    return OffsetState(mode, precision, total, drift, log_chance), at


def row_state(rows: Rows, thresholds: Floats, fixed: Floats, mode: Floats) -> RowState:
    """Return the rows where their reporters have these offsets (R,)."""
    eta = fixed + mode[rows.reporters.of_row]
    return RowState(row_terms(rows.noise, thresholds, eta, rows.category, rows.weight), eta)
