"""Was it right? What a calibration stated of later reports against what came.

Reports of one reporter depend on each other through the reporter's offset, and all depend on what
the calibration did not know; both are in the variance, from the model itself.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from models.learning.calibration import FEWEST_REPORTERS_SHOWN
from models.learning.estimator import SCORES, Posterior
from models.learning.evidence import Column, Evidence, people
from models.learning.latent import LatentFit, latent_fit
from models.learning.ordinal.links import Probit
from models.learning.ordinal.thresholds import threshold_slopes
from models.learning.predictive import expected_scores, score_chances
from models.learning.terms import COEFFICIENT_NAMES

DRIFTED = 3.5
"""Standard errors of the mean shift from which a calibration has drifted: by chance one look in
2,000, were it normal."""

Z_95 = 1.959963984540054

BANDS = (0.0, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 1.0)
"""Stated chances of "just right" that are told apart where enough people are in each."""

_NODES = 9
_JUST_RIGHT = SCORES.index(0)


@dataclass(frozen=True)
class Band:
    """Reports whose stated chance of "just right" lies from `low` to `high`."""

    low: float
    high: float
    reports: int
    reporters: int
    stated: float
    achieved: float


@dataclass(frozen=True)
class Shift:
    """How much higher than stated the mean score came out, with its standard error."""

    mean: float
    standard_error: float

    @property
    def interval(self) -> tuple[float, float]:
        """The 95 % interval of the mean shift."""
        reach = Z_95 * self.standard_error
        return self.mean - reach, self.mean + reach

    @property
    def drifted(self) -> bool:
        """Whether chance, offsets and the calibration's own error do not explain it."""
        return abs(self.mean) > DRIFTED * self.standard_error


def bands(chances: Column, evidence: Evidence) -> list[Band]:
    """Return stated against achieved shares of "just right", every band of ten people or more.

    `chances` (n, 5) are of the rows of the evidence. A band of fewer people is joined to the next,
    the last to the one before: none is left out, so none can be told from the total.
    """
    stated = chances[:, _JUST_RIGHT]
    place = np.clip(np.digitize(stated, BANDS) - 1, 0, len(BANDS) - 2)
    return [
        _band(BANDS[first], BANDS[last + 1], (first <= place) & (place <= last), stated, evidence)
        for first, last in _joined(place, evidence.reporter)
    ]


def _joined(place: NDArray[np.int64], reporter: NDArray[np.int64]) -> list[tuple[int, int]]:
    """Return the first and last band of each run of bands that ten people are in."""
    runs: list[tuple[int, int]] = []
    first = 0
    for last in range(len(BANDS) - 1):
        if people(reporter, (first <= place) & (place <= last)) >= FEWEST_REPORTERS_SHOWN:
            runs.append((first, last))
            first = last + 1
    if runs:
        runs[-1] = (runs[-1][0], len(BANDS) - 2)
    return runs


def _band(
    low: float, high: float, rows: NDArray[np.bool_], stated: Column, evidence: Evidence
) -> Band:
    right = evidence.score[rows] == 0
    reporters = people(evidence.reporter, rows)
    return Band(low, high, len(right), reporters, float(stated[rows].mean()), float(right.mean()))


def shift(posterior: Posterior, chances: Column, evidence: Evidence) -> Shift:
    """Return how far the scores of some evidence lie from what the posterior expected of them.

    Parameters
    ----------
    posterior : Posterior
        Of a calibration that had not seen the evidence.
    chances : array (n, 5)
        `score_chances` of that posterior for the rows.
    evidence : Evidence
        At least one report.

    """
    expected, _ = expected_scores(chances)
    fit = latent_fit(posterior, evidence.columns)
    variance = _of_scores(posterior, fit, evidence.reporter) + _of_posterior(posterior, fit)
    n = evidence.reports
    return Shift(float(np.sum(evidence.score - expected)) / n, sqrt(variance) / n)


def foreseen(posterior: Posterior, evidence: Evidence) -> tuple[Column, Shift]:
    """Return the stated chances (n, 5) of some evidence, and the shift from them."""
    chances = score_chances(posterior, evidence)
    return chances, shift(posterior, chances, evidence)


def _of_scores(posterior: Posterior, fit: LatentFit, reporter: NDArray[np.int64]) -> float:
    """Return the variance of the sum of all scores, those of one reporter sharing an offset."""
    people = int(reporter.max()) + 1
    first, second, within = np.zeros(people), np.zeros(people), 0.0
    for weight, mean, variance in _at_offsets(posterior, fit):
        total = np.bincount(reporter, weights=mean, minlength=people)
        first += weight * total
        second += weight * np.square(total)
        within += weight * float(variance.sum())
    return within + float(np.sum(second - np.square(first)))


def _at_offsets(posterior: Posterior, fit: LatentFit) -> Iterator[tuple[float, Column, Column]]:
    """Yield weight, and mean and variance (n,) of the scores, at offsets that stand for all."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(_NODES)
    offset_sd = sqrt(posterior.noise_variance - 1)
    for node, weight in zip(nodes, weights / weights.sum(), strict=True):
        distance = fit.thresholds - (fit.level + node * offset_sd)[:, None]
        below = Probit().cumulative(distance / fit.noise_sd[:, None])
        edges = np.pad(below, ((0, 0), (1, 1)), constant_values=(0.0, 1.0))
        gross = posterior.contamination
        chances = (1 - gross) * np.diff(edges, axis=1) + gross / len(SCORES)
        yield float(weight), *expected_scores(chances)


def _of_posterior(posterior: Posterior, fit: LatentFit) -> float:
    """Return the variance of the sum of expected scores that the posterior leaves, to first order.

    The mean score is the sum over thresholds of the chance to lie above, offsets averaged over.
    """
    sd = np.sqrt(np.square(fit.noise_sd) + posterior.noise_variance - 1)[:, None]
    density = Probit().density((fit.thresholds - fit.level[:, None]) / sd)[0] / sd
    by_width = -density.sum(axis=0) @ threshold_slopes(posterior.mean[len(COEFFICIENT_NAMES) :])
    gradient = np.concatenate([density.sum(axis=1) @ fit.terms, by_width])
    gradient *= 1 - posterior.contamination
    return float(gradient @ posterior.covariance @ gradient)
