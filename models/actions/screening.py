"""Holding doubtful reports back before a calibration learns from them."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from math import isnan
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
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
_READ = 10_000
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
    if rows is None:
        return []
    found = reasons(fitted.posterior, rows.received(rows.among(())))
    return [
        _doubt(rows, row, Reason(str(found[row])))
        for row in np.flatnonzero(found != NO_REASON).tolist()
    ]


def released(
    session: Session, group_id: str, gone: Collection[str], posterior: Posterior
) -> frozenset[str]:
    """Return the reports held as copies that are none any more once some members are erased."""
    held = [*session.scalars(_held_as_copies(group_id, gone))]
    rows = _rows(session, group_id, Report.member_id.not_in(gone)) if held else None
    if rows is None:
        return frozenset()
    again = rows.among(held)
    sound = again & (reasons(posterior, rows.received(again)) == NO_REASON)
    return frozenset(report_id.decode() for report_id in rows.ids[sound].tolist())


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


class _Rows(NamedTuple):
    """Reports as columns (n,), oldest first; `said` is (n, columns).

    Texts are bytes: a million ids as objects would take more memory than all else.
    """

    ids: NDArray[np.bytes_]
    versions: NDArray[np.int64]
    statuses: NDArray[np.bytes_]
    members: NDArray[np.bytes_]
    days: NDArray[np.int64]
    day_is_said: NDArray[np.bool_]
    said: NDArray[np.float64]

    def among(self, report_ids: Collection[str]) -> NDArray[np.bool_]:
        """Return which rows (n,) are of some reports."""
        return np.isin(self.ids, np.array([*report_ids], np.bytes_))

    def received(self, again: NDArray[np.bool_]) -> Received:
        """Return the rows as they are judged; those that are judged `again` as if they counted."""
        _, reporter = np.unique(self.members, return_inverse=True)
        return Received(
            Evidence(dict(zip(COLUMNS, self.said.T, strict=True)), reporter.astype(np.int64)),
            self.days,
            self.day_is_said,
            (self.statuses == Status.COUNTED.value.encode()) | again,
            (self.statuses == Status.HELD.value.encode()) & ~again,
        )


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


def _rows(session: Session, group_id: str, *only: ColumnElement[bool]) -> _Rows | None:
    """Return all reports of a group, or some, oldest first, None where there are none."""
    query = select(*_ABOUT, *_WHEN, *SAID).join(Foot, Foot.id == Report.foot_id)
    ordered = query.where(Report.group_id == group_id, *only).order_by(Report.id)
    few = session.connection().execute(ordered.execution_options(yield_per=_READ))
    parts = [_part(rows) for rows in few.partitions()]
    return _Rows(*map(np.concatenate, zip(*parts, strict=True))) if parts else None


def _part(rows: Sequence[Any]) -> _Rows:
    ids, versions, statuses, members, knitted, came, *values = zip(*rows, strict=True)
    days = [(day or moment).toordinal() for day, moment in zip(knitted, came, strict=True)]
    return _Rows(
        np.array(ids, np.bytes_),
        np.array(versions, np.int64),
        np.array(statuses, np.bytes_),
        np.array(members, np.bytes_),
        np.array(days, np.int64),
        np.array([day is not None for day in knitted]),
        np.array(values, np.float64).T,
    )


def _doubt(rows: _Rows, row: int, reason: Reason) -> Doubt:
    """Return the doubt about a report, with the measurement that stands out of an odd foot."""
    report_id, version = rows.ids[row].decode(), int(rows.versions[row])
    if reason is not Reason.IMPLAUSIBLE_FOOT:
        return Doubt(report_id, version, reason)
    foot = dict(zip(COLUMNS, rows.said[row].tolist(), strict=True))
    taken = {name: foot[name] for name in MEASUREMENT_NAMES if not isnan(foot[name])}
    doubts = doubts_about_foot(taken)
    return Doubt(report_id, version, reason, str(doubts[-1]) if doubts else None)


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
