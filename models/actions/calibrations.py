"""The calibrations of a group: keeping what was calibrated, and showing it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from models.actions import publishing
from models.actions.activations import (
    ACTIVE,
    History,
    active_id,
    history,
    owned,
    put_in_charge,
)
from models.actions.actor import Actor
from models.actions.coarse_card import FOR_THOSE_WHO_CALIBRATE, without_figures
from models.actions.judging import Judged
from models.actions.paging import Page, page
from models.actions.shown_counts import in_tens
from models.actions.shown_effects import effects_to_show
from models.actions.shown_slices import to_show
from models.actions.turns import take_turns
from models.domain.errors import Conflict
from models.domain.roles import Action
from models.domain.wording import counted
from models.learning import calibration as learning
from models.learning.challenge import WAITS
from models.tables.learned import Calibration
from models.tables.people import Member

SUMMARY_COLUMNS = (
    Calibration.id,
    Calibration.number,
    Calibration.reports,
    Calibration.reporters,
    Calibration.created_at,
)

OVERTAKEN = "another calibration was activated while this one was compared: calibrate again"
KEPT_BACK = "it was asked not to activate it"


def keep_calibration(
    session: Session, actor: Actor, judged: Judged, *, activate: bool = True
) -> Calibration:
    """Keep a calibration; it answers from now on unless something speaks against it.

    It waits where it compares worse, where `activate` is False, where another one was activated
    since it was compared, and where the same reports gave one that was rolled back.

    Raises
    ------
    Conflict
        Where it learned from somebody who was erased since: nothing of it may stay.

    """
    actor.require(Action.CALIBRATE)
    take_turns(session, actor.group_id)
    _require_all_there(session, actor, judged)
    held_up = list(_against(session, actor, judged, activate=activate))
    verdict = {"verdict": WAITS, "reasons": held_up} if held_up else {}
    row = _row(session, actor, judged, {**judged.diagnostics, **verdict})
    if not held_up:
        reason = judged.diagnostics["reasons"][0]
        put_in_charge(session, actor, row.id, reason, chosen=False)
    return row


def list_calibrations(
    session: Session, actor: Actor, *, after: str | None, limit: int
) -> tuple[Page, History]:
    """Return a page of the group's calibrations, and what was activated when."""
    actor.require(Action.READ_GROUP)
    query = select(*SUMMARY_COLUMNS).where(Calibration.group_id == actor.group_id)
    found = page(session, query, Calibration.id, after=after, limit=limit)
    return found, history(session, actor.group_id)


def read_calibration(session: Session, actor: Actor, calibration_id: str) -> Mapping[str, Any]:
    """Return one calibration with its evidence, coefficients and their standard errors.

    Raises
    ------
    NotFound
        Where the group has no such calibration.

    """
    actor.require(Action.READ_GROUP)
    return described(session, owned(session, actor, calibration_id), actor)


def described(session: Session, row: Calibration, actor: Actor) -> dict[str, Any]:
    """Return a calibration as people read it.

    Figures that could tell of fewer than ten people are withheld from everybody, exact ones from
    those who do not calibrate.
    """
    shown = row.published and actor.may(Action.CALIBRATE)
    why = FOR_THOSE_WHO_CALIBRATE if row.published else publishing.why_withheld(row)
    return {
        **summary(session, row, actor),
        "estimator": row.artefact["estimator"],
        "fingerprint": row.fingerprint if shown else None,
        "coefficients": learning.coefficients(row.artefact) if shown else None,
        "noise_variance": row.artefact["noise_variance"] if shown else None,
        "withheld": None if shown else why,
    }


def summary(session: Session, row: Calibration, actor: Actor) -> dict[str, Any]:
    """Return what a calibration rests on, whether it answers, and why or why not."""
    past = history(session, row.group_id)
    standing = past.standing(row.id)
    stored = [] if row.diagnostics is None else row.diagnostics["reasons"]
    chosen = [past.reason] if standing == ACTIVE and past.reason is not None else []
    reasons = list(dict.fromkeys([*chosen, *stored]))
    return {
        **{column.key: getattr(row, column.key) for column in SUMMARY_COLUMNS},
        **standing_and_counts(past, row, actor),
        "prior": _prior(row),
        "reasons": reasons if actor.may(Action.CALIBRATE) else without_figures(reasons),
    }


def _counts(row: Any, actor: Actor) -> dict[str, int | None]:
    """Return how many reports of how many people a calibration rests on: exact, or in tens.

    Exact counts are for those who calibrate.
    """
    if actor.may(Action.CALIBRATE):
        return {"reports": row.reports, "reporters": row.reporters}
    return in_tens(row.reports, row.reporters)


def standing_and_counts(past: History, row: Any, actor: Actor) -> dict[str, Any]:
    """Return whether a calibration answers, and on how much it rests, as the actor may know it."""
    standing = past.standing(row.id)
    return {"active": standing == ACTIVE, "standing": standing, **_counts(row, actor)}


def _prior(row: Calibration) -> str:
    """Return what a calibration began with, in words."""
    wider = learning.wider_of(row.artefact)
    if wider is None:
        return "geometry"
    return f"geometry and {counted(wider.groups, 'group')} of {wider.people} people or more"


def _require_all_there(session: Session, actor: Actor, judged: Judged) -> None:
    rows = select(Member.id).where(Member.group_id == actor.group_id)
    if not judged.people.keys() <= set(session.scalars(rows)):
        raise Conflict("somebody was erased while this was calibrated: calibrate again")


def _against(session: Session, actor: Actor, judged: Judged, *, activate: bool) -> Iterator[str]:
    """Yield what speaks against letting a calibration answer."""
    if judged.diagnostics["verdict"] == WAITS:
        yield from judged.diagnostics["reasons"]
    if not activate:
        yield KEPT_BACK
    if active_id(session, actor.group_id) != judged.champion_id:
        yield OVERTAKEN
    undone = history(session, actor.group_id).rolled_back
    same = select(Calibration.number).where(
        Calibration.id.in_(undone), Calibration.fingerprint == judged.fitted.fingerprint
    )
    for number in session.scalars(same.order_by(Calibration.number)):
        yield f"the same reports gave calibration {number}, which was rolled back"


def _row(
    session: Session, actor: Actor, judged: Judged, diagnostics: dict[str, Any]
) -> Calibration:
    fitted = judged.fitted
    last = session.scalar(
        select(func.max(Calibration.number)).where(Calibration.group_id == actor.group_id)
    )
    published = publishing.may_publish(session, actor.group_id, judged.people)
    if published and diagnostics["figures"] is not None:
        slices = to_show(session, actor.group_id, diagnostics["figures"]["slices"])
        diagnostics = {**diagnostics, "figures": {**diagnostics["figures"], "slices": slices}}
    diagnostics = {**diagnostics, "effects": effects_to_show(session, actor.group_id)}
    row = Calibration(
        group_id=actor.group_id,
        number=(last or 0) + 1,
        reports=fitted.reports,
        reporters=fitted.reporters,
        fingerprint=fitted.fingerprint,
        artefact=fitted.to_json(),
        diagnostics=diagnostics,
        people=dict(judged.people),
        published=published,
    )
    session.add(row)
    session.flush()
    return row
