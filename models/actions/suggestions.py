"""Answering a knitter: a suggestion from the active calibration, kept with its question."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import func, insert, select
from sqlalchemy.orm import Session

from models.actions import feet
from models.actions.activations import active
from models.actions.actor import Actor
from models.actions.answers import answered
from models.actions.evidence import evidence_of
from models.actions.paging import Page, page
from models.actions.shown_counts import in_tens
from models.domain.errors import Fault, Forbidden, Invalid, NotFound
from models.domain.foot import Foot
from models.domain.gauge import Gauge
from models.domain.plausibility import require_plausible
from models.domain.policy import Policy
from models.domain.roles import Action
from models.learning.evidence import Evidence
from models.learning.question import Question
from models.tables.base import new_id, now
from models.tables.learned import Suggestion
from models.tables.socks import Report

_KEEP = insert(Suggestion.__table__)  # type: ignore[arg-type]

_FOLLOWED = (
    select(func.count())
    .where(Report.group_id == Suggestion.group_id, Report.suggestion_id == Suggestion.id)
    .scalar_subquery()
)

_LISTED = (
    Suggestion.id,
    Suggestion.calibration_id,
    Suggestion.created_at,
    Suggestion.answer["slow_decrease_rounds"].as_integer().label("slow_decrease_rounds"),
    Suggestion.answer["depth_mm"].as_float().label("depth_mm"),
    Suggestion.answer["chance_just_right"].as_float().label("chance_just_right"),
    Suggestion.question["yarn_weight"].as_integer().label("yarn_weight"),
    Suggestion.answer["schedule"].label("schedule"),
    _FOLLOWED.label("reports"),
)

POLICY_FIELDS = (
    "heel_stitches",
    "closing_stitches",
    "medium_decrease_rounds",
    "plain_rounds",
    "decreases_per_round",
)


def ask(session: Session, actor: Actor, given: Mapping[str, Any]) -> dict[str, Any]:
    """Return a suggestion for a foot, which is named (`foot_id`) or given (`foot`), and keep it.

    Raises
    ------
    Invalid
        Where the question cannot be answered; every fault names its field.

    """
    actor.require(Action.ASK)
    if actor.member_id is None:
        raise Forbidden("the operator asks with a file: heeldepth suggest FILE")
    question = question_of(given, _foot(session, actor, given))
    calibration_id, fitted = active(session, actor.group_id)
    row = {
        "id": new_id(),
        "group_id": actor.group_id,
        "member_id": actor.member_id,
        "calibration_id": calibration_id,
        "question": {**given, "foot": dict(question.foot)},
        "answer": answered(fitted, question, _own(session, actor, given)),
        "created_at": now(),
    }
    session.connection().execute(_KEEP, row)
    return _shown(row)


def read_suggestion(session: Session, actor: Actor, suggestion_id: str) -> dict[str, Any]:
    """Return a suggestion as it was given.

    Raises
    ------
    NotFound
        Where there is none that the actor may see.

    """
    actor.require(Action.READ_OWN)
    query = select(*Suggestion.__table__.columns).where(
        *actor.sees(Suggestion), Suggestion.id == suggestion_id
    )
    row = session.execute(query).mappings().first()
    if row is None:
        raise NotFound("no such suggestion")
    return _shown(dict(row))


def list_suggestions(
    session: Session, actor: Actor, *, after: str | None, limit: int, newest_first: bool = False
) -> Page:
    """Return a page of the actor's own suggestions, each with what it says to knit."""
    actor.require(Action.READ_OWN)
    query = select(*_LISTED).where(*actor.sees(Suggestion))
    return page(session, query, Suggestion.id, after=after, limit=limit, newest_first=newest_first)


def reports_following(session: Session, actor: Actor, suggestion_id: str) -> int:
    """Return how many reported socks followed one of the actor's own suggestions."""
    query = select(_FOLLOWED).where(*actor.sees(Suggestion), Suggestion.id == suggestion_id)
    return session.scalar(query) or 0


def question_of(given: Mapping[str, Any], foot: Foot) -> Question:
    """Return the question that some fields and a foot make.

    Raises
    ------
    Invalid
        Where the foot is implausible or the stitches do not come out.

    """
    require_plausible(foot, under="foot")
    policy = Policy(**{name: given[name] for name in POLICY_FIELDS if name in given})
    gauge = Gauge(given["stitches_per_10cm"], given["rounds_per_10cm"])
    return Question(foot, given["yarn_weight"], gauge, policy)


def _foot(session: Session, actor: Actor, given: Mapping[str, Any]) -> Foot:
    foot_id, measurements = feet.named_or_given(given)
    if measurements is None:
        return _recorded(session, actor, str(foot_id))
    return feet.measurements_of(measurements)


def _own(session: Session, actor: Actor, given: Mapping[str, Any]) -> Evidence | None:
    """Return the asker's own reports where a personal answer is asked for."""
    if not given.get("personal"):
        return None
    return evidence_of(session, actor.group_id, Report.member_id == actor.member_id)


def _recorded(session: Session, actor: Actor, foot_id: str) -> Foot:
    try:
        return feet.measurements_of(feet.read_foot(session, actor, foot_id))
    except NotFound as error:
        raise Invalid([Fault("foot_id", foot_id, "no such foot in this group")]) from error


def _shown(row: Mapping[str, Any]) -> dict[str, Any]:
    """Return a suggestion as it is shown; older ones were kept with exact counts."""
    evidence = row["answer"]["evidence"]
    return {
        "id": row["id"],
        "calibration_id": row["calibration_id"],
        "created_at": row["created_at"],
        "yarn_weight": row["question"]["yarn_weight"],
        **row["answer"],
        "evidence": in_tens(evidence["reports"], evidence["reporters"]),
    }
