"""The calibrations of a group with what became of each: verdicts, activations and their reasons."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from models.actions.activations import history
from models.actions.actor import Actor
from models.actions.calibrations import SUMMARY_COLUMNS, standing_and_counts
from models.actions.coarse_card import without_figures
from models.domain.roles import Action
from models.tables.learned import Activation, Calibration

Reasons = Callable[[Sequence[str]], list[str]]

MOST = 20
"""Calibrations that are told of, the newest."""


def timeline(session: Session, actor: Actor) -> list[dict[str, Any]]:
    """Return the latest calibrations of the actor's group, newest first.

    Each has what it rests on, whether it answers, its `verdict` with `reasons`, and its
    `activations`, each with moment and reason, oldest first. Who does not calibrate reads no
    figures in reasons.
    """
    actor.require(Action.READ_GROUP)
    shown = _as_they_are if actor.may(Action.CALIBRATE) else without_figures
    past, activated = history(session, actor.group_id), _activated(session, actor.group_id, shown)
    rows = session.execute(
        select(
            *SUMMARY_COLUMNS,
            Calibration.diagnostics["verdict"].as_string().label("verdict"),
            Calibration.diagnostics["reasons"].label("reasons"),
        )
        .where(Calibration.group_id == actor.group_id)
        .order_by(Calibration.number.desc())
        .limit(MOST)
    )
    return [
        {
            **row._mapping,
            **standing_and_counts(past, row, actor),
            "reasons": shown(row.reasons or []),
            "activations": activated[row.id],
        }
        for row in rows
    ]


def _as_they_are(reasons: Sequence[str]) -> list[str]:
    return list(reasons)


def _activated(
    session: Session, group_id: str, shown: Reasons
) -> defaultdict[str, list[dict[str, Any]]]:
    rows = session.execute(
        select(Activation.calibration_id, Activation.created_at, Activation.reason)
        .where(Activation.group_id == group_id)
        .order_by(Activation.id)
    )
    found: defaultdict[str, list[dict[str, Any]]] = defaultdict(list)
    for row in rows:
        reason = None if row.reason is None else shown([row.reason])[0]
        found[row.calibration_id].append({"created_at": row.created_at, "reason": reason})
    return found
