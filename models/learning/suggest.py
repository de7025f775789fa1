"""Suggesting slow-decrease rounds for a foot, from a calibration's plain coefficients."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil, floor

import numpy as np

from models.domain.anthropometry import Estimate, estimate
from models.domain.foot import MEASUREMENT_NAMES, Foot
from models.domain.gauge import Gauge
from models.domain.policy import Policy
from models.domain.schedule import Schedule
from models.learning.calibration import Calibration, geometry_alone
from models.learning.decide import Figures, decide
from models.learning.design import Design, design_of
from models.learning.evidence import Column
from models.learning.fieller import Ratio

Z_80 = 1.2815515655446004
"""Standard errors on each side of an 80 % range."""

_HABIT_OF_A_STRANGER = 0.0


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

    With 80 % the best number of rounds for such feet lies in the range; single socks vary more.
    `unrounded` is the range before it was rounded outwards to whole rounds and cut to what the
    stitches allow; `wanted_depth_mm` is where the expected score is 0. `established` is False
    where the reports could not tell and geometry answered.
    """

    best: Candidate
    candidates: tuple[Candidate, ...]
    low: int
    high: int
    unrounded: tuple[float, float]
    wanted_depth_mm: float
    heel_diagonal: Estimate
    schedule: Schedule
    established: bool = True

    @property
    def neighbours(self) -> tuple[Candidate, ...]:
        """The candidates one round less, the best itself, and one round more."""
        s = self.best.slow_decrease_rounds
        return self.candidates[max(s - 1, 0) : s + 2]


def suggest(calibration: Calibration, question: Question) -> Answer:
    """Return the slow-decrease rounds with the highest chance of a heel that is just right.

    Where the reports do not establish that deeper is felt as deeper, geometry answers alone and the
    answer says so (`established`): a chance or range from such reports would mean nothing.
    """
    learned = _answer(calibration.figures, question)
    if learned is not None:
        return learned
    without = _answer(geometry_alone().figures, question)
    if without is None:
        raise AssertionError("the prior's slope is established")
    return replace(without, established=False)


def _answer(figures: Figures, question: Question) -> Answer | None:
    """Return an answer, or None where the slope's sign is not established."""
    diagonal = estimate("heel_diagonal_mm", question.foot)
    depths = np.array(question.policy.total_rounds()) * question.gauge.round_mm
    sock = _design(question, diagonal)
    terms = np.concatenate([[1.0, sock.excess, _HABIT_OF_A_STRANGER], sock.columns])
    decided = decide(figures, terms, (depths - depths[0]) / 10, sock.ideal_sd)
    needed = _needed(decided.crossing, float(depths[0]))
    if needed is None:
        return None
    best = int(np.argmax(decided.chances))
    candidates = tuple(
        map(Candidate, range(len(depths)), depths.tolist(), decided.chances.tolist())
    )
    unrounded = _in_rounds(needed.range, depths)
    low, high = _whole(unrounded, best, len(depths) - 1)
    return Answer(
        candidates[best],
        candidates,
        low,
        high,
        unrounded,
        needed.depth_mm,
        diagonal,
        question.policy.schedule(best),
    )


def _design(question: Question, diagonal: Estimate) -> Design:
    """Return the sock as the regression sees it, without slow-decrease rounds."""
    foot = {name: estimate(name, question.foot).value for name in MEASUREMENT_NAMES}
    schedule = question.policy.schedule(0)
    values = {
        **foot,
        **schedule.counts,
        "yarn_weight": question.yarn_weight,
        "stitches_per_10cm": question.gauge.stitches_per_10cm,
        "rounds_per_10cm": question.gauge.rounds_per_10cm,
        "heel_stitches": schedule.heel_stitches,
        "decreases_per_round": schedule.decreases_per_round,
    }
    return design_of(values, diagonal.sd)


@dataclass(frozen=True)
class _Needed:
    """Where the expected fit is 0: the depth, and its 80 % range, in mm."""

    depth_mm: float
    range: tuple[float, float]


def _needed(steps_cm: Ratio, first_depth: float) -> _Needed | None:
    """Return where the rising line crosses 0, given as a ratio of cm beyond the first depth."""
    found = steps_cm.interval(Z_80) if steps_cm.denominator > 0 else None
    if found is None:
        return None
    middle = steps_cm.numerator / steps_cm.denominator
    low, high = (first_depth + 10 * end for end in found)
    return _Needed(first_depth + 10 * middle, (low, high))


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


def _whole(unrounded: tuple[float, float], best: int, most: int) -> tuple[int, int]:
    """Round a range outwards, cut it to what is possible, and keep the suggestion inside."""
    low, high = (min(max(end, 0), most) for end in (floor(unrounded[0]), ceil(unrounded[1])))
    return min(low, best), max(high, best)
