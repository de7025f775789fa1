"""Why a report is held, and whether that lets stewards read it, as columns beside its own."""

from __future__ import annotations

from typing import Any

from sqlalchemy import ColumnElement, case, exists, or_, select
from sqlalchemy.orm import aliased

from models.domain.reviews import REASONS, Status
from models.tables.people import Member
from models.tables.socks import Report, Review


def in_words(reason: Any) -> ColumnElement[str | None]:
    """Return the words for a column of reasons, NULL where there is none."""
    return case({code.value: words for code, words in REASONS.items()}, value=reason, else_=None)


_LAST_REASON = (
    select(Review.reason)
    .where(
        Review.group_id == Report.group_id,
        Review.report_id == Report.id,
        Review.reason.is_not(None),
    )
    .order_by(Review.id.desc())
    .limit(1)
    .correlate(Report)
    .scalar_subquery()
)

HELD_BECAUSE = case((Report.status == Status.HELD.value, in_words(_LAST_REASON)), else_=None).label(
    "held_because"
)
"""The reason for which a report is held, in words; NULL where it is not held."""


def shown_to_stewards() -> ColumnElement[bool]:
    """Return the condition for held reports whose content a steward may read to decide of them.

    Those of reporters who have not joined, those that the service doubted, and those whose reporter
    answered by a correction. One that a steward held by hand says nothing of a member who has
    joined: else a remembered id would open measurements and notes again.
    """
    owner, step, later = aliased(Member), aliased(Review), aliased(Review)
    not_joined = select(owner.id).where(owner.id == Report.member_id, owner.person_id.is_(None))
    of_it = (step.group_id == Report.group_id, step.report_id == Report.id)
    is_last = ~exists().where(
        later.group_id == step.group_id, later.report_id == step.report_id, later.id > step.id
    )
    answers = or_(step.reason.is_not(None), step.member_id == Report.member_id)
    answered = select(step.id).where(*of_it, is_last, answers)
    return or_(not_joined.correlate(Report).exists(), answered.correlate(Report).exists())
