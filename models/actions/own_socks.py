"""A member's own socks, single points in a picture of the group's, for their owner only."""

from __future__ import annotations

from sqlalchemy.orm import Session

from models.actions.actor import Actor
from models.actions.evidence import evidence_of
from models.domain.roles import Action
from models.learning.slices import excess_mm
from models.tables.socks import Report


def own_socks(session: Session, actor: Actor) -> list[dict[str, float]]:
    """Return, of each of the actor's own reports that count, `excess_mm` and `fit_score`."""
    actor.require(Action.READ_OWN)
    own = evidence_of(session, actor.group_id, Report.member_id == actor.member_id)
    if own.reports == 0:
        return []
    excess = excess_mm(own.columns)
    return [
        {"excess_mm": round(mm, 1), "fit_score": score}
        for mm, score in zip(excess.tolist(), own.score.tolist(), strict=True)
    ]
