"""The shape in which an answer is kept and shown: JSON values, rounded to what can be meant."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from models.actions.shown_counts import in_tens
from models.domain.anthropometry import Estimate
from models.domain.care import CAUTIONS
from models.learning.calibration import Calibration
from models.learning.candidates import Candidate, FineAdjustment
from models.learning.caveats import Caveat, caveats_for, caveats_for_personal
from models.learning.evidence import Evidence
from models.learning.personal import PersonalAnswer, personal_answer
from models.learning.question import Question
from models.learning.suggest import Answer, suggest
from models.learning.worth import Worth


def answered(
    fitted: Calibration, question: Question, own: Evidence | None = None
) -> dict[str, Any]:
    """Return the answer to a question as JSON values.

    `own` are the asker's own reports, where a personal answer is asked for beside it.
    """
    answer = suggest(fitted, question)
    caveats = caveats_for(fitted, question, answer)
    personal = None
    if own is not None:
        personal = personal_answer(fitted, question, own) if answer.established else None
        caveats += caveats_for_personal(own)
    curve = [_candidate(candidate) for candidate in answer.candidates]
    best = answer.best.slow_decrease_rounds
    return {
        **curve[best],
        "low": answer.low,
        "high": answer.high,
        "established": answer.established,
        "neighbours": curve[max(best - 1, 0) : best + 2],
        "curve": curve,
        "fine_adjustment": _fine(answer.fine_adjustment),
        "worth_measuring": _worth(answer.worth_measuring),
        "personal": _personal(personal),
        "heel_diagonal": shown_estimate(answer.heel_diagonal),
        "evidence": in_tens(fitted.reports, fitted.reporters),
        "warnings": _warnings(caveats),
        "schedule": _schedule(answer, question),
        "cautions": list(CAUTIONS),
    }


def _candidate(candidate: Candidate) -> dict[str, Any]:
    return {
        "slow_decrease_rounds": candidate.slow_decrease_rounds,
        "depth_mm": round(candidate.depth_mm, 1),
        "chance_just_right": round(candidate.chance_just_right, 2),
        "chance_too_shallow": round(candidate.chance_too_shallow, 2),
        "chance_too_deep": round(candidate.chance_too_deep, 2),
    }


def _fine(fine: FineAdjustment | None) -> dict[str, Any] | None:
    if fine is None:
        return None
    return {"plain_rounds": fine.plain_rounds, **_candidate(fine.candidate)}


def _worth(worth: Worth | None) -> dict[str, Any] | None:
    if worth is None:
        return None
    return {
        "measurement": worth.measurement,
        "range_rounds_now": round(worth.now.range_rounds, 1),
        "range_rounds_then": round(worth.then.range_rounds, 1),
        "chance_now": round(worth.now.chance, 2),
        "chance_then": round(worth.then.chance, 2),
    }


def _personal(personal: PersonalAnswer | None) -> dict[str, Any] | None:
    if personal is None:
        return None
    best = _candidate(personal.best)
    shown = ("slow_decrease_rounds", "depth_mm", "chance_just_right")
    return {**{name: best[name] for name in shown}, "reports": personal.reports}


def shown_estimate(estimate: Estimate) -> dict[str, Any]:
    """Return a measurement that was taken or estimated, as JSON values."""
    return {
        "value_mm": round(estimate.value, 1),
        "sd_mm": round(estimate.sd, 1),
        "measured": estimate.measured,
    }


def _warnings(caveats: Iterable[Caveat]) -> list[dict[str, str]]:
    return [{"code": caveat.code, "text": caveat.text} for caveat in caveats]


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
