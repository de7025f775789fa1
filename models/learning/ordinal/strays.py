"""Reporters who do not answer like the others: doubted by evidence, held loosely, never dropped.

A reporter is sound, with an offset from the common distribution, or a stray, with an offset that
may be anything. The more a reporter's own reports speak for a stray, the less the offset is held
to the common distribution, so a clique that scores every sock "far too shallow" explains itself
instead of moving everybody else.

References
----------
Box, G. and Tiao, G. (1968). A Bayesian approach to some outlier problems. Biometrika 55, 119-129
(from memory): the scale-contaminated normal.

"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import expit, logit

from models.learning.ordinal.arrays import Floats
from models.learning.ordinal.likelihood import position_terms
from models.learning.ordinal.offsets import OffsetState
from models.learning.ordinal.problem import Rows

# Latent sd of a stray's offset when judging, and the precision left to hold one surely found.
_STRAY_SD = 3.0
_STRAY_HOLD = 0.02
_LEAST_CURVATURE = 1e-6


@dataclass(frozen=True)
class Doubts:
    """Chance (R,) that each reporter is a stray, the share behind it, and the expected share."""

    of_reporter: Floats
    share: float
    expected: float

    def precision(self, log_sd: float) -> Floats:
        """Return the prior precision (R,) of each offset when sound ones have this log sd."""
        sound = float(np.exp(-2.0 * log_sd))
        return np.asarray((1.0 - self.of_reporter) * sound + self.of_reporter * _STRAY_HOLD)

    def population_sd(self, sound_sd: float, state: OffsetState) -> float:
        """Return the sd of all offsets, strays included: they too are people who may ask."""
        stray = np.maximum(np.square(state.mode) - 1.0 / state.total, sound_sd**2)
        doubt = self.of_reporter
        return float(np.sqrt(np.mean((1.0 - doubt) * sound_sd**2 + doubt * stray)))

    def distance(self, other: Doubts) -> float:
        """Return the mean difference of the chances."""
        return float(np.mean(np.abs(self.of_reporter - other.of_reporter)))


def no_doubts(reporters: int, share: float) -> Doubts:
    """Return doubts that hold every reporter for sound."""
    return Doubts(np.zeros(reporters), share, share)


def moved_doubts(
    doubts: Doubts, rows: Rows, thresholds: Floats, fixed: Floats, log_sd: float, worth: float
) -> Doubts:
    """Judge every reporter again from what the reports alone say of the offset.

    They are read where the offset is zero, so a doubt never feeds on itself.

    Parameters
    ----------
    doubts : Doubts
        As judged so far; only their share is used.
    rows : Rows
        What was reported, by whom.
    thresholds : array (K-1,)
        In latent units.
    fixed : array (n,)
        Latent position without the offsets.
    log_sd : float
        Of the offsets of sound reporters.
    worth : float
        Number of reporters that the belief about the share of strays is worth.

    """
    slope, bend = position_terms(rows.noise, thresholds, fixed, rows.category, rows.weight)
    curvature = np.maximum(rows.reporters.total(bend), _LEAST_CURVATURE)
    alone = rows.reporters.total(slope) / curvature
    # Before the search has settled everybody may be off together; the median is not.
    alone = alone - np.median(alone)
    sound = np.exp(2.0 * log_sd) + 1.0 / curvature
    stray = _STRAY_SD**2 + 1.0 / curvature
    odds = 0.5 * np.log(sound / stray) + 0.5 * np.square(alone) * (1.0 / sound - 1.0 / stray)
    chance = expit(odds + logit(doubts.share))
    share = (doubts.expected * worth + float(chance.sum())) / (worth + len(chance))
    return Doubts(np.asarray(chance, dtype=np.float64), share, doubts.expected)
