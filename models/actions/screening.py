"""Holding doubtful reports back before a calibration learns from them."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from math import isnan
from typing import Any

from sqlalchemy import ColumnElement, Select, and_, func, insert, select, tuple_, update
from sqlalchemy.orm import Session, aliased

from models.actions.activations import active
from models.actions.actor import Actor
from models.actions.received import received
from models.actions.streams import cut
from models.domain.foot import MEASUREMENT_NAMES
from models.domain.plausibility import doubts_about_foot
from models.domain.reviews import Reason, Status
from models.domain.roles import Action
from models.learning.doubtful import Doubted, doubted
from models.learning.estimator import Posterior
from models.learning.evidence import COLUMNS, Column
from models.learning.received import SAID, VERSION, report_ids
from models.learning.spilled import Spilled
from models.tables.base import new_id, now
from models.tables.socks import Report, Review

_AT_ONCE = 400

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
    found = _found(session, fitted.posterior, Report.group_id == actor.group_id)
    said = zip(report_ids(found.rows), found.rows, found.reasons, strict=True)
    return [_doubt(report_id, row, reason) for report_id, row, reason in said]


def released(
    session: Session, group_id: str, gone: Collection[str], posterior: Posterior
) -> frozenset[str]:
    """Return the reports held as copies that are none any more once some members are erased."""
    held = frozenset(session.scalars(_held_as_copies(group_id, gone)))
    if not held:
        return held
    left = and_(Report.group_id == group_id, Report.member_id.not_in(gone))
    found = _found(session, posterior, left, held)
    return held.difference(report_ids(found.rows))


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


def _found(
    session: Session,
    posterior: Posterior,
    condition: ColumnElement[bool],
    again: Collection[str] = (),
) -> Doubted:
    """Return which of some reports to hold; those of large groups wait in files meanwhile."""
    _, blocks, most = cut(session, condition)
    chunks = received(session, condition, again, most)
    return doubted(posterior, [*chunks] if blocks == 1 else Spilled.of(chunks), blocks)


def _doubt(report_id: str, row: Column, reason: Reason) -> Doubt:
    """Return the doubt about a report, with the measurement that stands out of an odd foot."""
    version = int(row[VERSION])
    if reason is not Reason.IMPLAUSIBLE_FOOT:
        return Doubt(report_id, version, reason)
    foot = dict(zip(COLUMNS, row[SAID].tolist(), strict=True))
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
