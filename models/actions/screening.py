"""Holding doubtful reports back before a calibration learns from them."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from sqlalchemy import (
    ColumnElement,
    DateTime,
    Select,
    func,
    insert,
    select,
    tuple_,
    type_coerce,
    update,
)
from sqlalchemy.orm import Session, aliased

from models.actions.activations import active
from models.actions.actor import Actor
from models.actions.evidence import SAID
from models.domain.foot import MEASUREMENT_NAMES
from models.domain.plausibility import doubts_about_foot
from models.domain.reviews import Reason, Status
from models.domain.roles import Action
from models.learning.doubtful import NO_REASON, Received, reasons
from models.learning.estimator import Posterior
from models.learning.evidence import COLUMNS, Evidence
from models.tables.base import new_id, now
from models.tables.socks import Foot, Report, Review

_AT_ONCE = 400
_ABOUT = (Report.id, Report.version, Report.status, Report.member_id)
_WHEN = (Report.knitted_on, type_coerce(Report.created_at, DateTime).label("came"))
"""The moment is read past our own type, which takes longer a row than all else."""

NO_COPY = "what it repeated was erased"


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


def released(
    session: Session, group_id: str, gone: Collection[str], posterior: Posterior
) -> frozenset[str]:
    """Return the reports held as copies that are none any more once some members are erased."""
    held = set(session.scalars(_held_as_copies(group_id, gone)))
    if not held:
        return frozenset()
    rows = _rows(session, group_id, Report.member_id.not_in(gone))
    found = reasons(posterior, _received(rows, held))
    return frozenset(
        row.id for row, why in zip(rows, found, strict=True) if row.id in held and why == NO_REASON
    )


def release(session: Session, group_id: str, report_ids: Collection[str]) -> None:
    """Let held reports count again that nothing speaks against any more, and record it."""
    counts = {"status": Status.COUNTED.value, "version": Report.version + 1}
    session.execute(
        update(Report)
        .where(Report.group_id == group_id, Report.id.in_(report_ids))
        .values(counts)
        .execution_options(synchronize_session=False)
    )
    for report_id in sorted(report_ids):
        step = Review(group_id=group_id, report_id=report_id, status=Status.COUNTED.value)
        step.text = NO_COPY
        session.add(step)
    session.flush()


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


def _held_as_copies(group_id: str, gone: Collection[str]) -> Select[str]:
    step = aliased(Review)
    latest = select(func.max(step.id)).where(step.report_id == Report.id).scalar_subquery()
    return (
        select(Report.id)
        .join(Review, Review.report_id == Report.id)
        .where(
            Report.group_id == group_id,
            Report.status == Status.HELD.value,
            Report.member_id.not_in(gone),
            Review.id == latest,
            Review.reason == Reason.COPY.value,
        )
    )


def _rows(session: Session, group_id: str, *only: ColumnElement[bool]) -> Sequence[Any]:
    """Return all reports of a group, or some, oldest first."""
    query = select(*_ABOUT, *_WHEN, *SAID).join(Foot, Foot.id == Report.foot_id)
    ordered = query.where(Report.group_id == group_id, *only).order_by(Report.id)
    return session.connection().execute(ordered).all()


def _received(rows: Sequence[Any], again: Collection[str] = ()) -> Received:
    """Return reports as they came; those that are to be judged again as if they counted."""
    report_id, _, status, member, knitted, came, *values = zip(*rows, strict=True)
    columns = {name: np.array(of, float) for name, of in zip(COLUMNS, values, strict=True)}
    _, reporter = np.unique(np.array(member), return_inverse=True)
    statuses, judged_again = np.array(status), np.array([one in again for one in report_id])
    days = [(day or moment).toordinal() for day, moment in zip(knitted, came, strict=True)]
    return Received(
        Evidence(columns, reporter.astype(np.int64)),
        np.array(days),
        np.array([day is not None for day in knitted]),
        (statuses == Status.COUNTED.value) | judged_again,
        (statuses == Status.HELD.value) & ~judged_again,
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
