"""Suggesting slow-decrease rounds for a foot, from a calibration's plain coefficients."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from models.domain.anthropometry import Estimate
from models.domain.schedule import Schedule
from models.learning.calibration import Calibration, geometry_alone
from models.learning.candidates import Candidate, FineAdjustment, curve_of, fine_adjustment
from models.learning.decide import Figures, decide
from models.learning.needed import in_rounds, needed, whole_rounds
from models.learning.question import Question, prepared
from models.learning.worth import Expected, Worth, worth_measuring


@dataclass(frozen=True)
class Answer:
    """The suggestion: the best candidate among all, and the 80 % range of what suits.

    With 80 % the best number of rounds for such feet lies in the range; single socks vary more.
    `unrounded` is the range before it was rounded outwards to whole rounds and cut to what the
    stitches allow; `wanted_depth_mm` is where the expected score is 0. `fine_adjustment` is a
    better choice with other plain rounds, `worth_measuring` what would narrow the answer most;
    each is None where there is none. `established` is False where the reports could not tell and
    geometry answered; nothing finer is said then.
    """

    best: Candidate
    candidates: tuple[Candidate, ...]
    low: int
    high: int
    unrounded: tuple[float, float]
    wanted_depth_mm: float
    heel_diagonal: Estimate
    schedule: Schedule
    fine_adjustment: FineAdjustment | None
    worth_measuring: Worth | None
    established: bool = True


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
    return replace(without, fine_adjustment=None, worth_measuring=None, established=False)


def _answer(figures: Figures, question: Question) -> Answer | None:
    """Return an answer, or None where the slope's sign is not established."""
    asked = prepared(question)
    decided = decide(figures, asked.sock.terms, asked.steps_cm, asked.sock.ideal_sd)
    depths = asked.asked_mm
    such_feet = needed(decided.crossing, float(depths[0]))
    if such_feet is None:
        return None
    best = int(np.argmax(decided.chances[: len(depths)]))
    curve = curve_of(asked, decided)
    low, high = in_rounds(np.array(such_feet.range_mm), depths).tolist()
    now = Expected(high - low, curve[best].chance_just_right)
    return Answer(
        curve[best],
        curve,
        *whole_rounds(low, high, best, len(depths) - 1),
        (low, high),
        such_feet.depth_mm,
        asked.heel_diagonal,
        question.policy.schedule(best),
        fine_adjustment(asked, decided, now.chance),
        worth_measuring(figures, question.foot, asked, now),
    )
