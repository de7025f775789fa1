"""Scales learned by marginal likelihood: offsets' sd, prior scale of blocks, gross errors.

References
----------
MacKay, D. (1992). Bayesian interpolation. Neural Computation 4, 415-447 (from memory): the
evidence for a prior scale and its re-estimation.

"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import expit, logit

from models.learning.ordinal.arrays import Floats
from models.learning.ordinal.arrow import solve_positive
from models.learning.ordinal.likelihood import RowTerms
from models.learning.ordinal.offsets import OffsetState
from models.learning.ordinal.problem import Beliefs, Prior, Rows

_LEAST_WEIGHT = 1e-300


@dataclass(frozen=True)
class Scales:
    """Log sd of the offsets, log stretch of each block (n_blocks,), share of gross errors."""

    log_sd: float
    log_blocks: Floats
    contamination: float

    def distance(self, other: Scales) -> float:
        """Return the largest difference of any entry."""
        return max(
            abs(self.log_sd - other.log_sd),
            float(np.max(np.abs(self.log_blocks - other.log_blocks), initial=0.0)),
            abs(self.contamination - other.contamination),
        )

    def towards(self, other: Scales, share: float) -> Scales:
        """Return scales that share of the way to others; the others themselves at 1."""
        if share == 1.0:
            return other
        return Scales(
            self.log_sd + share * (other.log_sd - self.log_sd),
            self.log_blocks + share * (other.log_blocks - self.log_blocks),
            self.contamination + share * (other.contamination - self.contamination),
        )


def moved_log_sd(beliefs: Beliefs, state: OffsetState, log_sd: float, doubt: Floats) -> float:
    """Return the offsets' log sd one scoring step up its evidence.

    `doubt` (R,) is the chance that a reporter is a stray and says nothing of the others.
    """
    slope, information = state.log_sd_slope(doubt)
    held = 1.0 / beliefs.offset_log_sd_spread**2
    away = log_sd - np.log(beliefs.offset_sd)
    return _damped(log_sd, slope - held * away, max(information, 0.25) + held)


def moved_log_blocks(
    prior: Prior, log_blocks: Floats, parameters: Floats, information: Floats
) -> Floats:
    """Return each block's log stretch one scoring step up its evidence.

    Parameters
    ----------
    prior : Prior
        With the spread that each block's scale is believed to have.
    log_blocks : array (n_blocks,)
        Log stretches so far.
    parameters : array (P,)
        Where the search stands.
    information : array (P, P)
        Posterior precision of the parameters.

    """
    precision = prior.precision(log_blocks)
    left = precision * np.diag(solve_positive(information, np.eye(len(precision))))
    surprise = precision * np.square(parameters - prior.mean) + left - 1.0
    held, moved = 1.0 / np.square(prior.block_spread), log_blocks.copy()
    for k in range(prior.n_blocks):
        inside = prior.block == k
        slope = float(surprise[inside].sum() - held[k] * moved[k])
        curvature = float(2.0 * np.square(1.0 - left[inside]).sum() + held[k])
        moved[k] = _damped(float(moved[k]), slope, curvature)
    return moved


def moved_contamination(beliefs: Beliefs, share: float, sums: tuple[float, float]) -> float:
    """Return the share of gross errors one scoring step up its evidence, on the logit scale.

    `sums` are slope and information of all rows, as `contamination_slope` has them.
    """
    slope, information = sums
    strength, width = beliefs.contamination_reports, share * (1.0 - share)
    # On the logit scale the slope itself bends the curve, most of all near zero.
    information = width**2 * information + abs(width * slope) + strength * width
    slope = width * slope + strength * (beliefs.contamination - share)
    return float(expit(_damped(float(logit(share)), slope, information)))


def contamination_slope(rows: Rows, state: OffsetState, terms: RowTerms) -> tuple[float, float]:
    """Return the derivative of the log marginal by the share of gross errors, and information.

    The determinant counts: offsets follow outliers, so the rows at their modes look too good.
    """
    share, who = rows.noise.contamination, rows.reporters
    weight = np.maximum(rows.weight, _LEAST_WEIGHT)
    chance = np.exp(terms.log_chance / weight)
    plain = (chance - share / rows.n_categories) / (1.0 - share)
    gain = (1.0 / rows.n_categories - plain) / chance
    fade = gain + 1.0 / (1.0 - share)
    counts = (state.total > state.precision) / state.total
    bend = who.total(fade * (np.square(terms.position) / weight + terms.curvature))
    follow = who.total(fade * terms.position) / state.total
    slope = np.sum(weight * gain) + 0.5 * np.sum(counts * (bend + state.drift * follow))
    return float(slope), float(np.sum(weight * np.square(gain)))


def _damped(value: float, slope: float, information: float) -> float:
    """Move a log scale one scoring step, at most one unit at a time."""
    return value + float(np.clip(0.8 * slope / information, -1.0, 1.0))
