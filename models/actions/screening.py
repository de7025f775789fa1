"""Holding doubtful reports back before a calibration learns from them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import insert, select, tuple_, update
from sqlalchemy.orm import Session

from models.actions.actor import Actor
from models.actions.calibrations import active
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
_WHEN = (Report.knitted_on, Report.created_at)


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
    received = _received(rows)
    found = reasons(fitted.posterior, received)
    return [
        Doubt(rows[row].id, rows[row].version, reason, _found(rows[row], reason))
        for row in np.flatnonzero(found != NO_REASON).tolist()
        for reason in [Reason(str(found[row]))]
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
    columns = [getattr(Foot if name in MEASUREMENT_NAMES else Report, name) for name in COLUMNS]
    return session.execute(
        select(*_ABOUT, *_WHEN, *columns)
        .join(Foot, Foot.id == Report.foot_id)
        .where(Report.group_id == group_id)
        .order_by(Report.id)
    ).all()


def _received(rows: Sequence[Any]) -> Received:
    about = len(_ABOUT) + len(_WHEN)
    values = np.array([row[about:] for row in rows], dtype=float)
    _, reporter = np.unique([row.member_id for row in rows], return_inverse=True)
    status = np.array([row.status for row in rows])
    return Received(
        Evidence(dict(zip(COLUMNS, values.T, strict=True)), reporter.astype(np.int64)),
        _days(rows),
        np.array([row.knitted_on is not None for row in rows]),
        status == Status.COUNTED.value,
        status == Status.HELD.value,
    )


def _days(rows: Sequence[Any]) -> NDArray[np.int64]:
    return np.array([(row.knitted_on or row.created_at).toordinal() for row in rows])


def _found(row: Any, reason: Reason) -> str | None:
    """Return which measurement stands out, where the foot is the reason and one does."""
    if reason is not Reason.IMPLAUSIBLE_FOOT:
        return None
    taken = {name: getattr(row, name) for name in MEASUREMENT_NAMES}
    doubts = doubts_about_foot({name: mm for name, mm in taken.items() if mm is not None})
    return str(doubts[-1]) if doubts else None


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
