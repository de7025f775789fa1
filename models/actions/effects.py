"""Did it help? The share just right before and since a size's last adoption."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy.orm import Session

from models.actions.actor import Actor
from models.actions.adoptions import standing_by_size
from models.actions.shown_effects import BEFORE, SINCE, Key, shown_effects
from models.domain.roles import Action
from models.tables.adopted import Adoption
from models.tables.socks import Design

Share = Mapping[str, Any]


def read_effects(session: Session, actor: Actor, design: Design) -> list[dict[str, Any]]:
    """Return, for every size that stands changed, its reports before and since its last adoption.

    "Before" begins with the adoption before that, if there was one. A sock belongs to the day it
    was finished, or else to the moment it was reported; one finished on the day of the adoption was
    knitted before it. The shares are as of a calibration (`models.actions.shown_effects`).
    """
    actor.require(Action.READ_GROUP)
    changed = standing_by_size(session, design)
    shown = shown_effects(session, design.group_id) if changed else {}
    return [_effect(shown, size_id, made[-1]) for size_id, made in changed.items()]


def _effect(shown: Mapping[Key, Share], size_id: str, last: Adoption) -> dict[str, Any]:
    change = next(one for one in last.changes if one["size_id"] == size_id)
    before, since = (shown.get((size_id, last.id, side)) for side in (BEFORE, SINCE))
    return {
        "size_id": size_id,
        "label": change["label"],
        "adoption_id": last.id,
        "adopted_at": last.created_at,
        "before": before,
        "since": since,
        "text": _text(before, since),
    }


def _text(before: Share | None, since: Share | None) -> str:
    if before is None or since is None:
        side = "before it" if before is None else "since"
        return (
            f"Too few people yet: fewer than 10 new ones had reported {side} when the group "
            "calibrated last."
        )
    if since["low"] > before["high"]:
        return "It helped: the intervals do not touch."
    if since["high"] < before["low"]:
        return "It made things worse: the intervals do not touch. Consider undoing it."
    return "It cannot be told yet: the intervals overlap."
