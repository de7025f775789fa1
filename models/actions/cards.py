"""The card of a calibration, ready for a page: generated from what is stored with it."""

from __future__ import annotations

from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from models.actions.activations import owned
from models.actions.actor import Actor
from models.actions.calibrations import summary
from models.actions.card_sections import sections_of
from models.actions.coarse_card import coarse_sections
from models.actions.publishing import why_withheld
from models.domain.roles import Action
from models.learning.calibration import FEWEST_REPORTERS_SHOWN
from models.tables.learned import Calibration
from models.tables.people import Member

NOT_STORED = "no figures were stored with it: calibrate again"


def read_card(session: Session, actor: Actor, calibration_id: str) -> dict[str, Any]:
    """Return the card of a calibration: whole, or coarse for those who do not calibrate.

    Names of reporters are for stewards only.

    Raises
    ------
    NotFound
        Where the group has no such calibration.

    """
    actor.require(Action.READ_GROUP)
    row = owned(session, actor, calibration_id)
    diagnostics = row.diagnostics
    told = summary(session, row, actor)
    if diagnostics is None or diagnostics["figures"] is None or not row.published:
        why = NOT_STORED if diagnostics is None else why_withheld(row)
        return {**told, "fingerprint": None, "withheld": why, "sections": []}
    if not actor.may(Action.CALIBRATE):
        sections = coarse_sections(diagnostics["figures"])
        return {**told, "fingerprint": None, "withheld": None, "sections": sections}
    names = _names(session, actor) if actor.may(Action.REVIEW) else None
    sections = sections_of(diagnostics, _before(session, row), names)
    return {**told, "fingerprint": row.fingerprint, "withheld": None, "sections": sections}


def _before(session: Session, row: Calibration) -> tuple[int, dict[str, Any]] | None:
    """Return number and diagnostics of the last calibration before whose card is shown."""
    earlier = (
        select(Calibration.number, Calibration.diagnostics)
        .where(
            Calibration.group_id == row.group_id,
            Calibration.number < row.number,
            Calibration.reporters >= FEWEST_REPORTERS_SHOWN,
            Calibration.published.is_(True),
            Calibration.diagnostics.is_not(None),
        )
        .order_by(Calibration.number.desc())
        .limit(1)
    )
    found = session.execute(earlier).first()
    return None if found is None else (found.number, found.diagnostics)


def _names(session: Session, actor: Actor) -> dict[str, str]:
    rows = session.execute(select(Member.id, Member.name).where(Member.group_id == actor.group_id))
    return {row.id: row.name for row in rows}
