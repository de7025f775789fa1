"""How good decisions were: share of the best chance, error, calibration, coverage."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from decisions.candidates.decision import Decision
from decisions.oracle import oracle_choice, true_chances
from decisions.population import Questions
from decisions.worlds import Truth
from models.learning.evidence import Column
from models.learning.scores import expected_calibration_error


@dataclass(frozen=True)
class Exam:
    """Questions with their answers: true chances (n, S), the oracle's chance and the true need."""

    questions: Questions
    chances: Column
    best: Column
    need: Column


@dataclass(frozen=True)
class Marks:
    """Figures of one candidate in one run; NaN where a candidate claims nothing.

    `share` is of the oracle's mean chance; `error_mm` the mean distance of the chosen depth
    from the need; `calibration` the ECE in ten bins; `coverage` of the 80 % range.
    """

    share: float
    error_mm: float
    calibration: float
    coverage: float


def exam(truth: Truth, questions: Questions) -> Exam:
    """Return the exam that these questions make in this world."""
    chances = true_chances(truth, questions)
    rows = np.arange(len(chances))
    best = chances[rows, oracle_choice(truth, questions)]
    return Exam(questions, chances, best, truth.need(questions.whole))


def marked(sheet: Exam, decision: Decision) -> Marks:
    """Return the marks of a decision."""
    rows = np.arange(len(decision.choice))
    reached = sheet.chances[rows, decision.choice]
    away = np.abs(sheet.questions.depths[rows, decision.choice] - sheet.need)
    calibration = coverage = float("nan")
    if decision.stated is not None:
        calibration = expected_calibration_error(decision.stated, reached, 10)
    if decision.low is not None and decision.high is not None:
        inside = (decision.low <= sheet.need) & (sheet.need <= decision.high)
        coverage = float(np.mean(inside))
    share = float(reached.mean() / sheet.best.mean())
    return Marks(share, 10.0 * float(away.mean()), calibration, coverage)
