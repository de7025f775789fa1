"""The shape in which an answer is kept and shown: JSON values, rounded to what can be meant."""

from __future__ import annotations

from typing import Any

from models.domain.anthropometry import Estimate
from models.domain.care import CAUTIONS
from models.learning.calibration import Calibration
from models.learning.caveats import caveats_for
from models.learning.suggest import Answer, Candidate, Question, suggest


def answered(fitted: Calibration, question: Question) -> dict[str, Any]:
    """Return the answer to a question as JSON values."""
    answer = suggest(fitted, question)
    return {
        **_candidate(answer.best),
        "low": answer.low,
        "high": answer.high,
        "neighbours": [_candidate(candidate) for candidate in answer.neighbours],
        "heel_diagonal": shown_estimate(answer.heel_diagonal),
        "evidence": {"reports": fitted.reports, "reporters": fitted.reporters},
        "warnings": [
            {"code": caveat.code, "text": caveat.text}
            for caveat in caveats_for(fitted, question, answer)
        ],
        "schedule": _schedule(answer, question),
        "cautions": list(CAUTIONS),
    }


def _candidate(candidate: Candidate) -> dict[str, Any]:
    return {
        "slow_decrease_rounds": candidate.slow_decrease_rounds,
        "depth_mm": round(candidate.depth_mm, 1),
        "chance_just_right": round(candidate.chance_just_right, 2),
    }


def shown_estimate(estimate: Estimate) -> dict[str, Any]:
    """Return a measurement that was taken or estimated, as JSON values."""
    return {
        "value_mm": round(estimate.value, 1),
        "sd_mm": round(estimate.sd, 1),
        "measured": estimate.measured,
    }


def _schedule(answer: Answer, question: Question) -> dict[str, Any]:
    """Return the schedule as `POST /v1/schedules` takes it, so that it can be sent on as it is."""
    return {
        "heel_stitches": answer.schedule.heel_stitches,
        "decreases_per_round": answer.schedule.decreases_per_round,
        **answer.schedule.counts,
        "stitches_per_10cm": question.gauge.stitches_per_10cm,
        "rounds_per_10cm": question.gauge.rounds_per_10cm,
        "foot": dict(question.foot),
    }
