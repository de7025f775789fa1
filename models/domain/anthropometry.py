"""Estimating one measurement of a foot from the others, by the survey's joint distribution.

Women and men are pooled in the survey's numbers, because a report does not ask for sex. The
normal regression of one measurement on any set of others follows from means and covariances:
slope = S_gg^-1 S_gx, residual variance = S_xx - slope' S_gx.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from math import sqrt
from typing import Any

from models.domain.foot import MEASUREMENT_NAMES, MEASUREMENTS, SURVEY_COUNTS, Figures, Foot


@dataclass(frozen=True)
class Regression:
    """`value = intercept + sum(slope * given) +- sd`, everything in mm."""

    intercept: float
    slopes: Mapping[str, float]
    sd: float

    def predict(self, given: Mapping[str, Any]) -> Any:
        """Return the expected value; given numbers may be floats or arrays of one shape."""
        return self.intercept + sum(slope * given[name] for name, slope in self.slopes.items())


@dataclass(frozen=True)
class Estimate:
    """A measurement in mm with the sd of what is not known about it (0 where it was measured)."""

    value: float
    sd: float

    @property
    def measured(self) -> bool:
        """Whether somebody laid a tape there."""
        return self.sd == 0


def estimate(name: str, foot: Foot) -> Estimate:
    """Return a measurement as taken, or as expected from the others of the foot."""
    if name in foot:
        return Estimate(foot[name], 0.0)
    found = regression(name, frozenset(foot))
    return Estimate(found.predict(foot), found.sd)


@cache
def regression(name: str, given: frozenset[str]) -> Regression:
    """Return the survey's regression of one measurement on a set of others.

    >>> length_and_ball = frozenset({"foot_length_mm", "foot_circumference_mm"})
    >>> heel = regression("heel_diagonal_mm", length_and_ball)
    >>> round(heel.slopes["foot_length_mm"], 3), round(heel.sd, 1)
    (0.72, 8.2)
    """
    known = [other for other in MEASUREMENT_NAMES if other in given and other != name]
    means, covariances = pooled()
    gram = [[covariances[a][b] for b in known] for a in known]
    cross = [covariances[a][name] for a in known]
    slopes = dict(zip(known, _solve(gram, cross), strict=True))
    explained = sum(slopes[a] * covariances[a][name] for a in known)
    intercept = means[name] - sum(slopes[a] * means[a] for a in known)
    return Regression(intercept, slopes, sqrt(covariances[name][name] - explained))


@cache
def pooled() -> tuple[dict[str, float], dict[str, dict[str, float]]]:
    """Return means (mm) and covariances (mm^2) of women and men together."""
    total = sum(SURVEY_COUNTS.values())
    share = {sex: count / total for sex, count in SURVEY_COUNTS.items()}
    means = {m.name: sum(share[sex] * getattr(m, sex).mean for sex in share) for m in MEASUREMENTS}
    covariances: dict[str, dict[str, float]] = {name: {} for name in MEASUREMENT_NAMES}
    for i, a in enumerate(MEASUREMENTS):
        for j, b in enumerate(MEASUREMENTS[: i + 1]):
            covariance = sum(share[sex] * _moment(i, j, sex, means) for sex in share)
            covariances[a.name][b.name] = covariances[b.name][a.name] = covariance
    return means, covariances


def _moment(i: int, j: int, sex: str, centre: Mapping[str, float]) -> float:
    """Return one sex's mean product of measurements i >= j about the pooled means."""
    a, b = MEASUREMENTS[i], MEASUREMENTS[j]
    first: Figures = getattr(a, sex)
    second: Figures = getattr(b, sex)
    correlation = 1.0 if i == j else first.correlations[j]
    apart = (first.mean - centre[a.name]) * (second.mean - centre[b.name])
    return correlation * first.sd * second.sd + apart


def _solve(matrix: Sequence[Sequence[float]], right: Sequence[float]) -> list[float]:
    """Solve a small positive definite system by elimination; no pivoting is needed for one."""
    rows = [[*row, value] for row, value in zip(matrix, right, strict=True)]
    size = len(rows)
    for pivot in range(size):
        for below in range(pivot + 1, size):
            factor = rows[below][pivot] / rows[pivot][pivot]
            rows[below] = [x - factor * y for x, y in zip(rows[below], rows[pivot], strict=True)]
    solution = [0.0] * size
    for k in reversed(range(size)):
        known = sum(rows[k][j] * solution[j] for j in range(k + 1, size))
        solution[k] = (rows[k][size] - known) / rows[k][k]
    return solution
