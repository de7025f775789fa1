"""Calibrating a group's reports, and choosing which calibration answers."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from sqlalchemy import ColumnElement, bindparam, func, select
from sqlalchemy.orm import Session

from models.actions.actor import Actor
from models.actions.paging import Page, page
from models.actions.turns import take_turns
from models.domain.errors import NotFound
from models.domain.foot import MEASUREMENT_NAMES
from models.domain.reviews import COUNTING
from models.domain.roles import Action
from models.learning import calibration as learning
from models.learning.evidence import COLUMNS, Evidence
from models.tables.learned import Activation, Calibration
from models.tables.socks import Foot, Report

SUMMARY_COLUMNS = (
    Calibration.id,
    Calibration.number,
    Calibration.reports,
    Calibration.reporters,
    Calibration.created_at,
)

_ACTIVE = (
    select(Activation.calibration_id)
    .where(Activation.group_id == bindparam("group_id"))
    .order_by(Activation.id.desc())
    .limit(1)
)

_READY: dict[str, learning.Calibration] = {}
"""Calibrations parsed before, by id: they never change, and parsing costs more than answering."""

_MOST_READY = 64


def evidence_of(session: Session, group_id: str, *only: ColumnElement[bool]) -> Evidence:
    """Return the reports of a group that count as evidence, or `only` some of them."""
    columns = [getattr(Foot if name in MEASUREMENT_NAMES else Report, name) for name in COLUMNS]
    rows = session.execute(
        select(Report.member_id, *columns)
        .join(Foot, Foot.id == Report.foot_id)
        .where(Report.group_id == group_id, Report.status.in_(COUNTING), *only)
    ).all()
    members = np.array([row[0] for row in rows], dtype=str)
    values = np.array([row[1:] for row in rows], dtype=float).reshape(len(rows), len(COLUMNS))
    _, reporter = np.unique(members, return_inverse=True)
    return Evidence.of(dict(zip(COLUMNS, values.T, strict=True)), reporter.astype(np.int64))


def calibrated(session: Session, actor: Actor) -> learning.Calibration:
    """Return the calibration of the group's reports; nothing is kept yet.

    It only reads, so that nobody who writes has to wait for it.
    """
    actor.require(Action.CALIBRATE)
    return learning.calibrate(evidence_of(session, actor.group_id))


def keep_calibration(session: Session, actor: Actor, fitted: learning.Calibration) -> Calibration:
    """Keep a calibration; it answers once it is activated."""
    actor.require(Action.CALIBRATE)
    take_turns(session, actor.group_id)
    last = session.scalar(
        select(func.max(Calibration.number)).where(Calibration.group_id == actor.group_id)
    )
    row = Calibration(
        group_id=actor.group_id,
        number=(last or 0) + 1,
        reports=fitted.reports,
        reporters=fitted.reporters,
        fingerprint=fitted.fingerprint,
        artefact=fitted.to_json(),
    )
    session.add(row)
    session.flush()
    return row


def activate(session: Session, actor: Actor, calibration_id: str) -> Calibration:
    """Make a calibration the one that answers from now on.

    Raises
    ------
    NotFound
        Where the group has no such calibration.
    Outdated
        Where an older version of this project made it.

    """
    actor.require(Action.CALIBRATE)
    row = _owned(session, actor, calibration_id)
    learning.Calibration.from_json(row.artefact)
    if active_id(session, actor.group_id) != row.id:
        session.add(Activation(group_id=actor.group_id, calibration_id=row.id))
        session.flush()
    return row


def active_id(session: Session, group_id: str) -> str | None:
    """Return the id of the calibration that answers, or None where none was activated."""
    found: str | None = session.connection().execute(_ACTIVE, {"group_id": group_id}).scalar()
    return found


def active(session: Session, group_id: str) -> tuple[str | None, learning.Calibration]:
    """Return the calibration that answers in a group, with its id.

    Where none was activated, or an older version of this project made it, geometry answers.
    """
    calibration_id = active_id(session, group_id)
    if calibration_id is None:
        return None, learning.geometry_alone()
    ready = _READY.get(calibration_id)
    if ready is None:
        row = session.get_one(Calibration, calibration_id)
        ready = _READY[calibration_id] = learning.usable(row.artefact)
        if len(_READY) > _MOST_READY:
            _READY.clear()
    return (None if ready.outdated else calibration_id), ready


def list_calibrations(
    session: Session, actor: Actor, *, after: str | None, limit: int
) -> tuple[Page, str | None]:
    """Return a page of the group's calibrations, and the id of the active one."""
    actor.require(Action.READ_GROUP)
    query = select(*SUMMARY_COLUMNS).where(Calibration.group_id == actor.group_id)
    found = page(session, query, Calibration.id, after=after, limit=limit)
    return found, active_id(session, actor.group_id)


def read_calibration(session: Session, actor: Actor, calibration_id: str) -> Mapping[str, Any]:
    """Return one calibration with its evidence, coefficients and their standard errors.

    Raises
    ------
    NotFound
        Where the group has no such calibration.

    """
    actor.require(Action.READ_GROUP)
    row = _owned(session, actor, calibration_id)
    return described(row, active=active_id(session, actor.group_id) == row.id)


def described(row: Calibration, *, active: bool) -> dict[str, Any]:
    """Return a calibration as people read it.

    What the reports say is withheld until enough people reported: fewer could be told apart by it.
    """
    shown = row.reporters == 0 or row.reporters >= learning.FEWEST_REPORTERS_SHOWN
    return {
        **{column.key: getattr(row, column.key) for column in SUMMARY_COLUMNS},
        "active": active,
        "estimator": row.artefact["estimator"],
        "fingerprint": row.fingerprint if shown else None,
        "coefficients": learning.coefficients(row.artefact) if shown else None,
        "noise_variance": row.artefact["noise_variance"] if shown else None,
        "withheld": None if shown else "too few people yet",
    }


def _owned(session: Session, actor: Actor, calibration_id: str) -> Calibration:
    row = session.scalar(
        select(Calibration).where(
            Calibration.group_id == actor.group_id, Calibration.id == calibration_id
        )
    )
    if row is None:
        raise NotFound("no such calibration")
    return row
