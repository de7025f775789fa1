"""Holding doubtful reports back before a calibration learns from them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from sqlalchemy import DateTime, insert, select, tuple_, type_coerce, update
from sqlalchemy.orm import Session

from models.actions.activations import active
from models.actions.actor import Actor
from models.actions.evidence import SAID
from models.domain.foot import MEASUREMENT_NAMES
from models.domain.plausibility import doubts_about_foot
from models.domain.reviews import Reason, Status
from models.domain.roles import Action
from models.learning.doubtful import NO_REASON, Received, reasons
from models.learning.evidence import COLUMNS, Evidence
from models.tables.base import new_id, now
from models.tables.socks import Foot, Report, Review

_AT_ONCE = 400
_ABOUT = (Report.id, Report.version, Report.status, Report.member_id)
_WHEN = (Report.knitted_on, type_coerce(Report.created_at, DateTime).label("came"))
"""The moment is read past our own type, which takes longer a row than all else."""


@dataclass(frozen=True)
class Doubt:
    """A report to hold, as it stood when it was read, with the reason and what was found."""

    report_id: str
    version: int
    reason: Reason
    text: str | None = None


def doubtful(session: Session, actor: Actor) -> list[Doubt]:
    """Return the reports of the group that should be held, judged by the active calibration.

    It only reads, so that nobody who writes has to wait for it.
    """
    actor.require(Action.CALIBRATE)
    _, fitted = active(session, actor.group_id)
    rows = _rows(session, actor.group_id)
    if not rows:
        return []
    found = reasons(fitted.posterior, _received(rows))
    return [
        _doubt(rows[row], Reason(str(found[row])))
        for row in np.flatnonzero(found != NO_REASON).tolist()
    ]


def hold(session: Session, actor: Actor, doubts: Sequence[Doubt]) -> int:
    """Hold reports, record why, and return how many were held.

    What was changed, reviewed or deleted since it was read is left as it is.
    """
    actor.require(Action.CALIBRATE)
    held: list[Doubt] = []
    for first in range(0, len(doubts), _AT_ONCE):
        some = doubts[first : first + _AT_ONCE]
        ids = set(session.scalars(_holding(actor.group_id, some)))
        held += [doubt for doubt in some if doubt.report_id in ids]
    if held:
        session.execute(insert(Review), _reviews(actor.group_id, held))
    return len(held)


def _rows(session: Session, group_id: str) -> Sequence[Any]:
    """Return all reports of a group, oldest first."""
    query = select(*_ABOUT, *_WHEN, *SAID).join(Foot, Foot.id == Report.foot_id)
    ordered = query.where(Report.group_id == group_id).order_by(Report.id)
    return session.connection().execute(ordered).all()


def _received(rows: Sequence[Any]) -> Received:
    _, _, status, member, knitted, came, *values = zip(*rows, strict=True)
    columns = {name: np.array(of, float) for name, of in zip(COLUMNS, values, strict=True)}
    _, reporter = np.unique(np.array(member), return_inverse=True)
    statuses = np.array(status)
    days = [(day or moment).toordinal() for day, moment in zip(knitted, came, strict=True)]
    return Received(
        Evidence(columns, reporter.astype(np.int64)),
        np.array(days),
        np.array([day is not None for day in knitted]),
        statuses == Status.COUNTED.value,
        statuses == Status.HELD.value,
    )


def _doubt(row: Any, reason: Reason) -> Doubt:
    """Return the doubt about a report, with the measurement that stands out of an odd foot."""
    if reason is not Reason.IMPLAUSIBLE_FOOT:
        return Doubt(row.id, row.version, reason)
    taken = {name: getattr(row, name) for name in MEASUREMENT_NAMES}
    doubts = doubts_about_foot({name: mm for name, mm in taken.items() if mm is not None})
    return Doubt(row.id, row.version, reason, str(doubts[-1]) if doubts else None)


def _holding(group_id: str, doubts: Sequence[Doubt]) -> Any:
    """Return the statement that holds those of the reports that still are as they were read."""
    as_read = [(doubt.report_id, doubt.version) for doubt in doubts]
    return (
        update(Report)
        .where(
            Report.group_id == group_id,
            Report.status == Status.COUNTED.value,
            tuple_(Report.id, Report.version).in_(as_read),
        )
        .values(status=Status.HELD.value, version=Report.version + 1)
        .returning(Report.id)
        .execution_options(synchronize_session=False)
    )


def _reviews(group_id: str, held: Sequence[Doubt]) -> list[dict[str, Any]]:
    moment = now()
    return [
        {
            "id": new_id(),
            "group_id": group_id,
            "report_id": doubt.report_id,
            "status": Status.HELD.value,
            "reason": doubt.reason.value,
            "text": doubt.text,
            "created_at": moment,
        }
        for doubt in held
    ]
