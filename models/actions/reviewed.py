"""Why a report is held, in words, as a column beside the report's own."""

from __future__ import annotations

from typing import Any

from sqlalchemy import ColumnElement, case, select

from models.domain.reviews import REASONS, Status
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
