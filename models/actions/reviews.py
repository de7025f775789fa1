"""The review queue: held reports, what stewards decide of them, and the record of every step."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from sqlalchemy import Boolean, Select, and_, case, not_, or_, select, type_coerce
from sqlalchemy.orm import Session

from models.actions.actor import Actor
from models.actions.paging import Page, cut, one_page, page
from models.actions.reports import REPORT_COLUMNS, described
from models.actions.review_steps import take_step
from models.actions.reviewed import in_words, shown_to_stewards
from models.domain.errors import Conflict, NotFound
from models.domain.foot import MEASUREMENT_NAMES
from models.domain.reviews import Status
from models.domain.roles import Action
from models.tables.people import Member
from models.tables.socks import Foot, Report, Review

REVIEW_COLUMNS = (
    Review.id,
    Review.report_id,
    Review.status,
    in_words(Review.reason).label("reason"),
    Review.text,
    Member.name.label("reviewer"),
    Review.created_at,
)

QUEUE_COLUMNS = (*REPORT_COLUMNS, *(getattr(Foot, name) for name in MEASUREMENT_NAMES))

ALWAYS_SHOWN = frozenset(
    {"id", "reporter", "status", "held_because", "created_at", "updated_at", "withheld"}
)
"""What the queue says of a report whose content only its reporter may read."""


def list_held(session: Session, actor: Actor, *, after: str | None, limit: int) -> Page:
    """Return a page of the held reports of the group with their feet, oldest first.

    Where the content is for the reporter alone, `withheld` is true and it is NULL.
    """
    actor.require(Action.REVIEW)
    mine = and_(*actor.sees(Report))
    withheld = type_coerce(not_(or_(mine, shown_to_stewards())), Boolean()).label("withheld")
    query = described([*QUEUE_COLUMNS, withheld]).join(Foot, Foot.id == Report.foot_id)
    held = (Report.group_id == actor.group_id, Report.status == Status.HELD.value)
    found = one_page(query.where(*held), Report.id, after=after, limit=limit).subquery()
    columns = [
        column
        if column.key in ALWAYS_SHOWN
        else case((~found.c.withheld, column)).label(column.key)
        for column in found.c
    ]
    return cut(session.execute(select(*columns).order_by(found.c.id)).all(), limit)


def correctable(session: Session, actor: Actor, report_ids: Collection[str]) -> set[str]:
    """Return which of some reports the actor may correct: own ones, and those written down."""
    actor.require(Action.RECORD)
    query = select(Report.id).where(*actor.sees(Report), Report.id.in_(report_ids))
    return set(session.scalars(query))


def review(
    session: Session,
    actor: Actor,
    report_id: str,
    status: Status,
    *,
    since: Status = Status.HELD,
    text: str | None = None,
) -> Mapping[str, Any]:
    """Let a report count or not, and return the record of it; `since` is its status as read.

    Raises
    ------
    NotFound
        Where the group has no such report.
    Conflict
        Where its status is another by now, or the new one cannot follow it.

    """
    actor.require(Action.REVIEW)
    report = _reviewed(session, actor, report_id)
    if report.status != since:
        raise Conflict(f"the report is {report.status}, not {since}; read it again")
    made = take_step(session, actor, report, status, text)
    row = session.execute(_recorded(actor).where(Review.id == made.id)).mappings().one()
    return dict(row)


def list_reviews(
    session: Session, actor: Actor, report_id: str, *, after: str | None, limit: int
) -> Page:
    """Return a page of all that became of a report that the actor may see, oldest first.

    Raises
    ------
    NotFound
        Where there is none that the actor may see.

    """
    report = _reviewed(session, actor, report_id)
    query = _recorded(actor).where(Review.report_id == report.id)
    return page(session, query, Review.id, after=after, limit=limit)


def _reviewed(session: Session, actor: Actor, report_id: str) -> Report:
    """Return a report whose reviews the actor may see: an own one, or for a reviewer any.

    What became of it is all that is shown of it here, not what it says.
    """
    seen = [Report.group_id == actor.group_id]
    if not actor.may(Action.REVIEW):
        seen = actor.sees(Report)
    report = session.scalar(select(Report).where(*seen, Report.id == report_id))
    if report is None:
        raise NotFound("no such report")
    return report


def _recorded(actor: Actor) -> Select[Any]:
    columns: Sequence[Any] = REVIEW_COLUMNS
    query = select(*columns).outerjoin(Member, Member.id == Review.member_id)
    return query.where(Review.group_id == actor.group_id)
