"""Holding doubtful reports back before a calibration learns from them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import isnan
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
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
_READ = 10_000
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
    parts = [_part(rows) for rows in _rows(session, actor.group_id)]
    if not parts:
        return []
    rows = _Rows(*map(np.concatenate, zip(*parts, strict=True)))
    found = reasons(fitted.posterior, rows.received)
    return [
        _doubt(rows, row, Reason(str(found[row])))
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

    @property
    def received(self) -> Received:
        """The rows as they are judged."""
        _, reporter = np.unique(self.members, return_inverse=True)
        return Received(
            Evidence(dict(zip(COLUMNS, self.said.T, strict=True)), reporter.astype(np.int64)),
            self.days,
            self.day_is_said,
            self.statuses == Status.COUNTED.value.encode(),
            self.statuses == Status.HELD.value.encode(),
        )


def _rows(session: Session, group_id: str) -> Iterator[Sequence[Any]]:
    """Yield all reports of a group, oldest first, some at a time."""
    query = select(*_ABOUT, *_WHEN, *SAID).join(Foot, Foot.id == Report.foot_id)
    ordered = query.where(Report.group_id == group_id).order_by(Report.id)
    return session.connection().execute(ordered.execution_options(yield_per=_READ)).partitions()


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
