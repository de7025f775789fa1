"""A member's own socks, single points in a picture of the group's, for their owner only."""

from __future__ import annotations

from sqlalchemy.orm import Session

from models.actions.actor import Actor
from models.actions.evidence import Pool, gathered
from models.domain.roles import Action
from models.learning.slices import excess_mm
from models.tables.socks import Report

MOST = 100
"""Socks that are told of, the latest."""


def own_socks(session: Session, actor: Actor) -> list[dict[str, float]]:
    """Return `excess_mm` and `fit_score` of the actor's own reports that count, latest first."""
    actor.require(Action.READ_OWN)
    own = gathered(session, Pool(actor.group_id), Report.member_id == actor.member_id)
    if own.evidence.reports == 0:
        return []
    excess, score = excess_mm(own.evidence.columns).tolist(), own.evidence.score.tolist()
    latest = sorted(zip(own.changed_at, own.report_ids, excess, score, strict=True), reverse=True)
    return [{"excess_mm": round(mm, 1), "fit_score": scored} for *_, mm, scored in latest[:MOST]]
