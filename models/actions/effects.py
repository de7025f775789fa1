"""Did it help? The share just right before and since a size's last adoption."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from datetime import datetime, time
from typing import Any

import numpy as np
from sqlalchemy import select
from sqlalchemy.orm import Session

from models.actions.actor import Actor
from models.actions.adoptions import standing_adoptions
from models.domain.reviews import COUNTING
from models.domain.roles import Action
from models.learning.helped import Share, just_right
from models.tables.adopted import Adoption
from models.tables.socks import Design, Report

Reports = Sequence[Any]
"""Rows of score, reporter, day and moment."""


def read_effects(session: Session, actor: Actor, design: Design) -> list[dict[str, Any]]:
    """Return, for every size that stands changed, its reports before and since its last adoption.

    "Before" begins with the adoption before that, if there was one. A sock belongs to the day it
    was finished, or else to the moment it was reported; one finished on the day of the adoption was
    knitted before it.
    """
    actor.require(Action.READ_GROUP)
    changed: dict[str, list[Adoption]] = {}
    for adoption in standing_adoptions(session, design):
        for change in adoption.changes:
            changed.setdefault(change["size_id"], []).append(adoption)
    return [_effect(session, design, size_id, made) for size_id, made in changed.items()]


def _effect(session: Session, design: Design, size_id: str, made: list[Adoption]) -> dict[str, Any]:
    last = made[-1]
    change = next(one for one in last.changes if one["size_id"] == size_id)
    rows = session.execute(
        select(Report.fit_score, Report.member_id, Report.knitted_on, Report.created_at).where(
            Report.group_id == design.group_id,
            Report.size_id == size_id,
            Report.status.in_(COUNTING),
        )
    ).all()
    since = [row for row in rows if _after(row, last.created_at)]
    before = [row for row in rows if not _after(row, last.created_at)]
    if len(made) > 1:
        before = [row for row in before if _after(row, made[-2].created_at)]
    return {
        "size_id": size_id,
        "label": change["label"],
        "adoption_id": last.id,
        "adopted_at": last.created_at,
        "before": _shown(before),
        "since": _shown(since),
        "text": _text(_share(before), _share(since)),
    }


def _after(row: Any, moment: datetime) -> bool:
    """Return whether a sock is of the time after a moment."""
    if row.knitted_on is None:
        return bool(row.created_at > moment)
    return datetime.combine(row.knitted_on, time(), moment.tzinfo) > moment


def _share(rows: Reports) -> Share | None:
    scores = np.array([row.fit_score for row in rows], dtype=float)
    return just_right(scores, np.array([row.member_id for row in rows], dtype=str))


def _shown(rows: Reports) -> dict[str, Any] | None:
    found = _share(rows)
    if found is None:
        return None
    return {k: v if k == "reports" else round(v, 2) for k, v in asdict(found).items()}


def _text(before: Share | None, since: Share | None) -> str:
    if before is None or since is None:
        side = "before it" if before is None else "since"
        return f"Too few people yet: fewer than 10 reported {side}."
    if since.low > before.high:
        return "It helped: the intervals do not touch."
    if since.high < before.low:
        return "It made things worse: the intervals do not touch. Consider undoing it."
    return "It cannot be told yet: the intervals overlap."
