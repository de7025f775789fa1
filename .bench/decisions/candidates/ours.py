"""The project's own calibration and suggestion, as the service gives them."""

from __future__ import annotations

import numpy as np

from decisions.candidates.decision import Decision
from decisions.population import Questions
from models.learning.calibration import calibrate
from models.learning.evidence import Column, Evidence
from models.learning.suggest import Answer, suggest


class Ours:
    """Ordered probit with the geometry as prior; highest predictive chance of "just right"."""

    def decide(self, evidence: Evidence, questions: Questions) -> Decision:
        """See `Candidate`."""
        calibration = calibrate(evidence)
        answers = [suggest(calibration, question) for question in questions.asked]
        return Decision(
            np.array([answer.best.slow_decrease_rounds for answer in answers]),
            np.array([answer.best.chance_just_right for answer in answers]),
            *np.array([range_cm(answer) for answer in answers]).T,
        )


def range_cm(answer: Answer) -> Column:
    """Return the ends of the unrounded range as depths in cm.

    Beyond the first and the last candidate a range goes on at the pace of those next to it.
    """
    depths = np.array([candidate.depth_mm for candidate in answer.candidates]) / 10
    low, high = (_depth_at(rounds, depths) for rounds in answer.unrounded)
    return np.array([low, high])


def _depth_at(rounds: float, depths: Column) -> float:
    last = len(depths) - 1
    if rounds < 0:
        return depths[0] + rounds * (depths[1] - depths[0])
    if rounds > last:
        return depths[-1] + (rounds - last) * (depths[-1] - depths[-2])
    return float(np.interp(rounds, np.arange(last + 1), depths))
