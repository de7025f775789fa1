"""Suggesting slow-decrease rounds for a foot, from a calibration's plain coefficients."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor

import numpy as np
from scipy.special import ndtr

from models.domain.anthropometry import Estimate, estimate
from models.domain.foot import MEASUREMENT_NAMES, Foot
from models.domain.gauge import Gauge
from models.domain.geometry import ideal_depth_sd_mm
from models.domain.policy import Policy
from models.domain.schedule import Schedule
from models.learning.calibration import Calibration
from models.learning.evidence import Column
from models.learning.fieller import Ratio
from models.learning.terms import EXCESS, TERM_NAMES, TERMS, derived

HALF_WIDTH = 0.5
"""Latent scores this near to 0 are reported as "just right"."""

Z_80 = 1.2815515655446004
"""Standard errors on each side of an 80 % range."""

_SLOPE = TERM_NAMES.index(EXCESS)


@dataclass(frozen=True)
class Question:
    """A foot, yarn and gauge, and what of the heel is fixed."""

    foot: Foot
    yarn_weight: int
    gauge: Gauge
    policy: Policy


@dataclass(frozen=True)
class Candidate:
    """One number of slow-decrease rounds with its depth (mm) and its chance to be just right."""

    slow_decrease_rounds: int
    depth_mm: float
    chance_just_right: float


@dataclass(frozen=True)
class Answer:
    """The suggestion: the best candidate, its neighbours, and the 80 % range of what suits.

    `unrounded` is the range before it was rounded outwards to whole rounds and cut to what the
    stitches allow; None (and `low`, `high` at the limits) where the reports cannot tell.
    `wanted` is the depth in mm at which the expected score is 0.
    """

    best: Candidate
    candidates: tuple[Candidate, ...]
    low: int
    high: int
    unrounded: tuple[float, float] | None
    wanted_depth_mm: float
    heel_diagonal: Estimate
    schedule: Schedule

    @property
    def neighbours(self) -> tuple[Candidate, ...]:
        """The candidates one round less, the best itself, and one round more."""
        s = self.best.slow_decrease_rounds
        return self.candidates[max(s - 1, 0) : s + 2]


def suggest(calibration: Calibration, question: Question) -> Answer:
    """Return the slow-decrease rounds with the highest chance of a heel that is just right."""
    diagonal = estimate("heel_diagonal_mm", question.foot)
    depths = np.array(question.policy.total_rounds()) * question.gauge.round_mm
    terms = _terms(question)
    chances, crossing = _decide(calibration, terms, depths, ideal_depth_sd_mm(diagonal.sd) / 10)
    best = int(np.argmax(chances))
    candidates = tuple(
        Candidate(s, float(depth), float(chance))
        for s, (depth, chance) in enumerate(zip(depths, chances, strict=True))
    )
    unrounded = None if crossing.range is None else _in_rounds(crossing.range, depths)
    low, high = _whole(unrounded, best, len(depths) - 1)
    return Answer(
        candidates[best],
        candidates,
        low,
        high,
        unrounded,
        crossing.depth_mm,
        diagonal,
        question.policy.schedule(best),
    )


@dataclass(frozen=True)
class _Crossing:
    """Where the expected score is 0: the depth, and its 80 % range, in mm."""

    depth_mm: float
    range: tuple[float, float] | None


def _terms(question: Question) -> Column:
    """Return the terms of the regression for s = 0."""
    foot = {name: estimate(name, question.foot).value for name in MEASUREMENT_NAMES}
    schedule = question.policy.schedule(0)
    values = derived(
        {
            **foot,
            **schedule.counts,
            "yarn_weight": question.yarn_weight,
            "stitches_per_10cm": question.gauge.stitches_per_10cm,
            "rounds_per_10cm": question.gauge.rounds_per_10cm,
            "heel_stitches": schedule.heel_stitches,
            "decreases_per_round": schedule.decreases_per_round,
        }
    )
    return np.array([term.of(values) for term in TERMS])


def _decide(
    calibration: Calibration, terms: Column, depths: Column, ideal_sd_cm: float
) -> tuple[Column, _Crossing]:
    """Return the chance of each depth and where the expected score crosses 0.

    Only the excess depth moves with s: means are a line in it and variances a parabola.
    """
    belief = calibration.posterior
    slope, v_slope = belief.mean[_SLOPE], belief.covariance[_SLOPE, _SLOPE]
    level = float(belief.mean @ terms)
    spread = belief.covariance @ terms
    v_unknown_diagonal = (slope**2 + v_slope) * ideal_sd_cm**2
    v_level = float(terms @ spread) + v_unknown_diagonal
    step = (depths - depths[0]) / 10
    mean = level + slope * step
    variance = v_level + 2 * step * spread[_SLOPE] + step**2 * v_slope + belief.noise_variance
    sd = np.sqrt(variance)
    chances = ndtr((HALF_WIDTH - mean) / sd) - ndtr((-HALF_WIDTH - mean) / sd)
    ratio = Ratio(-level, float(slope), v_level, -float(spread[_SLOPE]), float(v_slope))
    return chances, _crossing(ratio, float(depths[0]))


def _crossing(steps_cm: Ratio, first_depth: float) -> _Crossing:
    """Return where the line crosses 0, given as a ratio of cm beyond the first depth."""
    middle = steps_cm.numerator / steps_cm.denominator
    found = steps_cm.interval(Z_80) if steps_cm.denominator > 0 else None
    ends = None if found is None else (first_depth + 10 * found[0], first_depth + 10 * found[1])
    return _Crossing(first_depth + 10 * middle, ends)


def _in_rounds(ends_mm: tuple[float, float], depths: Column) -> tuple[float, float]:
    """Return depths as slow-decrease rounds, beyond the candidates at the pace of the last ones."""
    low, high = (_rounds_for(end, depths) for end in ends_mm)
    return low, high


def _rounds_for(depth: float, depths: Column) -> float:
    last = len(depths) - 1
    if last == 0:
        return 0.0
    if depth < depths[0]:
        return float((depth - depths[0]) / (depths[1] - depths[0]))
    if depth > depths[-1]:
        return float(last + (depth - depths[-1]) / (depths[-1] - depths[-2]))
    return float(np.interp(depth, depths, np.arange(last + 1)))


def _whole(unrounded: tuple[float, float] | None, best: int, most: int) -> tuple[int, int]:
    """Round a range outwards, cut it to what is possible, and keep the suggestion inside."""
    if unrounded is None:
        return 0, most
    low, high = (min(max(end, 0), most) for end in (floor(unrounded[0]), ceil(unrounded[1])))
    return min(low, best), max(high, best)
