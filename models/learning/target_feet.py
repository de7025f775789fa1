"""The feet a size is meant for: the survey's, inside the size's range, or the group's own.

The survey is drawn on by quasi-random points, so the same size always gets the same feet. Length
and circumference are drawn inside the range, one after the other, and every foot carries the chance
of what it was drawn from as its weight: so the weighted feet have the survey's distribution,
truncated.

References
----------
Genz 1992, J. Comput. Graph. Stat. 1:141 (sequential conditioning; from memory). Sobol' points:
`scipy.stats.qmc`.

"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
import scipy  # loads scipy.stats when it is first used; `from scipy.stats import` does at once
from numpy.typing import NDArray
from scipy.special import log_ndtr, logsumexp, ndtri

from models.domain.anthropometry import regression
from models.domain.foot import MEASUREMENT_NAMES, MEASUREMENTS, SURVEY_COUNTS, Figures
from models.domain.sizes import RANGED
from models.learning.evidence import Column
from models.learning.missing import Rows, filled, patterns

POINTS = 128
"""Feet drawn for each sex; a power of two, as Sobol' points want it."""

FEWEST_OWN = 50
"""People with a foot in the range from whom on the group's own feet stand for it."""

MOST_OWN = 400
"""Of the group's own feet that are looked at."""

RARE = 1e-3
"""Share of the survey in a range below which the range lies beyond what was measured."""

Range = Mapping[str, tuple[float, float]]
"""Lowest and highest value (mm) of every measurement of `RANGED`."""


@dataclass(frozen=True)
class TargetFeet:
    """Whole feet, mm by measurement (n,), with weights (n,) that add up to 1.

    `people` says how many of the group stand behind them (0: they are the survey's), and
    `survey_share` which share of the survey lies in the range.
    """

    columns: Mapping[str, Column]
    weight: Column
    people: int
    survey_share: float


def survey_feet(within: Range) -> TargetFeet:
    """Return weighted feet of the survey's joint distribution inside a range."""
    points = scipy.stats.qmc.Sobol(len(MEASUREMENTS), scramble=False).random(POINTS) + 0.5 / POINTS
    total = sum(SURVEY_COUNTS.values())
    drawn, logs = [], []
    for sex, count in SURVEY_COUNTS.items():
        feet, log_chance = _truncated([getattr(m, sex) for m in MEASUREMENTS], within, points)
        drawn.append(feet)
        logs.append(log_chance + np.log(count / total / POINTS))
    rows, log_weight = np.concatenate(drawn), np.concatenate(logs)
    all_of_them = logsumexp(log_weight)
    columns = {name: rows[:, k] for k, name in enumerate(MEASUREMENT_NAMES)}
    return TargetFeet(columns, np.exp(log_weight - all_of_them), 0, float(np.exp(all_of_them)))


def own_feet(
    columns: Mapping[str, Column], member: NDArray[np.int64], survey_share: float
) -> TargetFeet:
    """Return a group's own feet in a range, every person weighing the same.

    What was not measured is drawn from the survey's regression on the rest, at quantiles spread
    evenly over the feet: its mean alone would make all feet look alike.

    Parameters
    ----------
    columns : mapping of arrays (n,)
        Measurements in mm, NaN where one was not taken.
    member : array (n,)
        Whose foot each is.
    survey_share : float
        Share of the survey in the range.

    """
    people = len(np.unique(member))
    kept = np.unique(np.linspace(0, len(member) - 1, MOST_OWN).astype(int))
    chosen = {name: columns[name][kept] for name in MEASUREMENT_NAMES}
    _, who, feet_of = np.unique(member[kept], return_inverse=True, return_counts=True)
    weight = 1 / feet_of[who]
    complete, _ = filled(chosen)
    for rows, name, sd in _gaps(chosen):
        complete[name][rows] += sd * ndtri((np.arange(rows.sum()) + 0.5) / rows.sum())
    return TargetFeet(complete, weight / weight.sum(), people, survey_share)


def inside(columns: Mapping[str, Column], within: Range) -> Rows:
    """Return which feet (n,) lie in a range, ends included."""
    rows = np.ones(len(columns[RANGED[0]]), dtype=bool)
    for name in RANGED:
        low, high = within[name]
        rows &= (columns[name] >= low) & (columns[name] <= high)
    return rows


def _gaps(columns: Mapping[str, Column]) -> Iterator[tuple[Rows, str, float]]:
    """Yield rows, measurement and residual sd for everything that was not measured."""
    for rows, taken in patterns(columns):
        for name in set(MEASUREMENT_NAMES) - set(taken):
            yield rows, name, regression(name, frozenset(taken)).sd


def _truncated(figures: list[Figures], within: Range, points: Column) -> tuple[Column, Column]:
    """Return feet (n, 4) of one sex inside a range, and the log chance (n,) of each one's range."""
    root = np.linalg.cholesky(_correlation(figures))
    scores = np.empty_like(points)
    log_chance = np.zeros(len(points))
    for k, name in enumerate(MEASUREMENT_NAMES):
        known = scores[:, :k] @ root[k, :k]
        if name in within:
            low, high = (
                ((end - figures[k].mean) / figures[k].sd - known) / root[k, k]
                for end in within[name]
            )
            log_chance += _log_chance(low, high)
            scores[:, k] = scipy.stats.truncnorm.ppf(points[:, k], low, high)
        else:
            scores[:, k] = ndtri(points[:, k])
    spread = np.array([one.sd for one in figures])
    return np.array([one.mean for one in figures]) + spread * (scores @ root.T), log_chance


def _correlation(figures: list[Figures]) -> Column:
    correlation = np.eye(len(figures))
    for row, one in enumerate(figures):
        correlation[row, :row] = correlation[:row, row] = one.correlations
    return correlation


def _log_chance(low: Column, high: Column) -> Column:
    """Return the log chance that a standard normal lies between two limits, also far out."""
    flip = low > 0
    low, high = np.where(flip, -high, low), np.where(flip, -low, high)
    return np.asarray(log_ndtr(high) + np.log1p(-np.exp(log_ndtr(low) - log_ndtr(high))))
