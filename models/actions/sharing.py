"""Sharing what a group learned, and using what others shared; all of it can be taken back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import delete, func, select
from sqlalchemy.orm import Session

from models.actions.activations import active_id
from models.actions.actor import Actor
from models.actions.turns import take_turns
from models.actions.wider_pool import origin_of, used_since
from models.domain.errors import Conflict, Fault, Invalid, NotFound
from models.domain.roles import Action
from models.learning.calibration import Calibration as Fitted
from models.learning.summary import FEWEST_PEOPLE, Summary, summary_of
from models.tables.base import now
from models.tables.learned import Calibration
from models.tables.shared import Contribution, PoolUse, TakenSummary

MOST_TAKEN = 100
"""Summaries that a group may take in: enough for every installation that one hears of."""

NOT_CALIBRATED = "no calibration of this version answers yet: calibrate first"


def contribute(session: Session, actor: Actor) -> None:
    """Give other groups the summary of the active calibration, in place of any given before.

    It stays as it is until it is given anew or revoked: nothing leaves a group by itself.

    Raises
    ------
    Conflict
        Where no calibration answers, or its figures may not be shown.
    Invalid
        Where fewer than 50 people reported.

    """
    actor.require(Action.SHARE)
    take_turns(session, actor.group_id)
    row = _active(session, actor)
    fitted = Fitted.from_json(row.artefact)
    if fitted.alone is None:
        wanted = f"{FEWEST_PEOPLE} or more in a calibration of this version, to be shared"
        raise Invalid([Fault("reporters", fitted.reporters, wanted)])
    if not row.published:
        raise Conflict(
            "the figures of the active calibration are withheld, for they could tell of fewer than "
            "10 people beside those shown before: calibrate again when more have reported"
        )
    summary = summary_of(
        origin_of(actor.group_id), fitted.reporters, fitted.reports, fitted.alone
    ).to_json()
    revoke(session, actor)
    by = {"group_id": actor.group_id, "member_id": actor.member_id}
    session.add(Contribution(**by, calibration_id=row.id, summary=summary))
    session.flush()


def revoke(session: Session, actor: Actor) -> None:
    """Take the group's summary out of the wider pool at once; where there is none nothing changes.

    Calibrations of others that began with it stay as they are; their next ones do without it.
    """
    actor.require(Action.SHARE)
    session.execute(delete(Contribution).where(Contribution.group_id == actor.group_id))


def use_pool(session: Session, actor: Actor) -> None:
    """Let the group's calibrations begin with the wider pool from now on."""
    actor.require(Action.SHARE)
    take_turns(session, actor.group_id)
    if used_since(session, actor.group_id) is None:
        session.add(PoolUse(group_id=actor.group_id, member_id=actor.member_id))
        session.flush()


def leave_pool(session: Session, actor: Actor) -> None:
    """Let the group's calibrations begin with geometry alone from now on."""
    actor.require(Action.SHARE)
    session.execute(delete(PoolUse).where(PoolUse.group_id == actor.group_id))


def take_in(session: Session, actor: Actor, document: Mapping[str, Any]) -> TakenSummary:
    """Take in a summary from another installation, in place of an earlier one of its origin.

    Raises
    ------
    Invalid
        Where it cannot be a summary of this version, or is the group's own.
    Conflict
        Where the group has taken in as many as it may.

    """
    actor.require(Action.SHARE)
    summary = Summary.from_json(document)
    if summary.origin == origin_of(actor.group_id):
        wanted = "another group's: what this group knows it would count twice"
        raise Invalid([Fault("origin", summary.origin, wanted)])
    take_turns(session, actor.group_id)
    mine = select(TakenSummary).where(TakenSummary.group_id == actor.group_id)
    row = session.scalar(mine.where(TakenSummary.origin == summary.origin))
    if row is None:
        taken = select(func.count()).select_from(mine.subquery())
        if session.scalars(taken).one() >= MOST_TAKEN:
            raise Conflict(f"a group may take in {MOST_TAKEN} summaries: drop one first")
        row = TakenSummary(group_id=actor.group_id, origin=summary.origin)
        session.add(row)
    row.summary, row.member_id, row.created_at = summary.to_json(), actor.member_id, now()
    session.flush()
    return row


def drop(session: Session, actor: Actor, summary_id: str) -> None:
    """Do without a summary that the group took in.

    Raises
    ------
    NotFound
        Where the group took in none such.

    """
    actor.require(Action.SHARE)
    mine = TakenSummary.group_id == actor.group_id, TakenSummary.id == summary_id
    if session.scalar(select(TakenSummary.id).where(*mine)) is None:
        raise NotFound("no such summary was taken in")
    session.execute(delete(TakenSummary).where(*mine))


def _active(session: Session, actor: Actor) -> Calibration:
    calibration_id = active_id(session, actor.group_id)
    if calibration_id is None:
        raise Conflict(NOT_CALIBRATED)
    return session.get_one(Calibration, calibration_id)
