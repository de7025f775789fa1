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

from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import brentq
from scipy.special import expit, logit

from models.learning.ordinal.arrays import Floats
from models.learning.ordinal.likelihood import chances, position_terms
from models.learning.ordinal.offsets import OffsetState
from models.learning.ordinal.problem import Rows

# Latent sd of a stray's offset when judging, and the precision left to hold one surely found.
_STRAY_SD = 3.0
_STRAY_HOLD = 0.02
_LEAST_CURVATURE = 1e-6
_LARGEST_LEVERAGE = 0.95
_LEAST_SHARE = 1e-9
# Offsets at which a reporter's answers are looked at: dense where most are, wide enough for strays.
_NODES = 7.0 * np.sinh(np.linspace(-2.0, 2.0, 17)) / np.sinh(2.0)
_NODE_WIDTHS = np.gradient(_NODES)


@dataclass(frozen=True)
class Doubts:
    """Chance (R,) that each reporter is a stray, and the belief about their share.

    `worth` is the number of reporters that the `expected` share counts for.
    """

    of_reporter: Floats
    expected: float
    worth: float

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


def no_doubts(reporters: int, expected: float, worth: float) -> Doubts:
    """Return doubts that hold every reporter for sound."""
    return Doubts(np.zeros(reporters), expected, worth)


def moved_doubts(doubts: Doubts, odds: Floats) -> Doubts:
    """Judge every reporter again from the log odds (R,) that the reports alone give.

    Of the doubts so far only the belief about the share is used.
    """
    share = _share(odds, doubts.expected, doubts.worth)
    return replace(doubts, of_reporter=np.asarray(expit(odds + logit(share)), dtype=np.float64))


def stray_odds(
    rows: Rows, thresholds: Floats, fixed: Floats, covariance: Floats, log_sd: float
) -> Floats:
    """Return the log odds (R,) that each reporter is a stray, by what the reports alone say.

    The offset is integrated out under either belief, so a doubt never feeds on itself. What the
    others leave open of where the reporter should stand widens both: among few, nobody is strange.

    Parameters
    ----------
    rows : Rows
        What was reported, by whom.
    thresholds : array (K-1,)
        In latent units.
    fixed : array (n,)
        Latent position without the offsets.
    covariance : array (p, p)
        Of the coefficients, given all reports.
    log_sd : float
        Of the offsets of sound reporters.

    """
    sound = float(np.exp(2.0 * log_sd))
    _, bend = position_terms(rows.noise, thresholds, fixed, rows.category, rows.weight)
    unknown = _left_out_variance(rows, np.maximum(bend, 0.0), covariance, sound)
    answers = _answers(rows, thresholds, fixed)
    return _log_evidence(answers, _STRAY_SD**2 + unknown) - _log_evidence(answers, sound + unknown)


def _share(odds: Floats, expected: float, worth: float) -> float:
    """Return the share of strays that equals their mean chance, the belief counted in.

    Its posterior is log-concave, so there is one; stepping towards it would take many passes.
    """

    def excess(share: float) -> float:
        chance = float(np.sum(expit(odds + logit(share))))
        return expected * worth + chance - share * (worth + len(odds))

    return float(brentq(excess, _LEAST_SHARE, 1.0 - _LEAST_SHARE))


def _left_out_variance(rows: Rows, bend: Floats, covariance: Floats, sound: float) -> Floats:
    """Return the variance (R,) of each reporter's mean position as the others alone leave it.

    A reporter with leverage h explains that share of the own position, as in a studentised
    residual.
    """
    curvature = np.maximum(rows.reporters.total(bend), _LEAST_CURVATURE)
    middle = rows.reporters.totals(bend[:, None] * rows.design) / curvature[:, None]
    known = np.sum((middle @ covariance) * middle, axis=1)
    own = sound + 1.0 / curvature
    leverage = np.minimum(known / own, _LARGEST_LEVERAGE)
    return np.asarray(leverage * own / (1.0 - leverage))


def _answers(rows: Rows, thresholds: Floats, fixed: Floats) -> Floats:
    """Return the likelihood (R, nodes) of each reporter's answers at each offset, largest 1."""
    logs = np.empty((rows.reporters.count, len(_NODES)))
    for k, offset in enumerate(_NODES):
        chance = chances(rows.noise, thresholds, fixed + offset, rows.category)
        logs[:, k] = rows.reporters.total(rows.weight * np.log(chance))
    return np.asarray(np.exp(logs - logs.max(axis=1, keepdims=True)))


def _log_evidence(answers: Floats, variance: Floats) -> Floats:
    """Return the log evidence (R,) of answers whose offset has this variance, by quadrature."""
    weight = _NODE_WIDTHS * np.exp(-0.5 * np.square(_NODES) / variance[:, None])
    return np.asarray(np.log(np.sum(weight * answers, axis=1) / np.sum(weight, axis=1)))
