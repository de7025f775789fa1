"""All reports of a group out of the database, as the rows that doubts are found in."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from datetime import UTC, date, datetime
from typing import Any

import numpy as np
from sqlalchemy import ColumnElement, DateTime, select, type_coerce
from sqlalchemy.orm import Session

from models.actions.evidence import SAID
from models.actions.streams import READ_AT_ONCE, whole_people
from models.domain.reviews import Status
from models.learning.evidence import Column
from models.learning.received import coded
from models.tables.socks import Foot, Report

_ABOUT = (Report.member_id, Report.id, Report.version, Report.status)
_WHEN = (Report.knitted_on, type_coerce(Report.created_at, DateTime).label("came"))
"""The moment is read past our own type, which takes longer a row than all else; it is SQLite's, in
UTC without saying so, or PostgreSQL's, in the time zone of its session."""


def received(
    session: Session, condition: ColumnElement[bool], again: Collection[str], most: int
) -> Iterator[Column]:
    """Yield reports as `models.learning.received` has them, in chunks of whole people.

    A chunk has `most` reports or somewhat more. Those held ones that are judged `again` are told as
    if they counted.
    """
    query = select(*_ABOUT, *_WHEN, *SAID).join(Foot, Foot.id == Report.foot_id).where(condition)
    ordered = query.order_by(Report.member_id).execution_options(yield_per=READ_AT_ONCE)
    parts = session.connection().execute(ordered).partitions()
    yield from whole_people(_rows(parts, np.array([*again], np.bytes_)), most)


def _rows(parts: Iterable[Sequence[Any]], again: Any) -> Iterator[Column]:
    """Yield rows of numbers, people numbered as they come."""
    last, number = "", -1
    for part in parts:
        members, ids, versions, statuses, knitted, came, *said = zip(*part, strict=True)
        new = np.array([last, *members[:-1]]) != np.array(members)
        whose = number + np.cumsum(new)
        last, number = members[-1], whose[-1]
        days = [*map(_day_number, knitted, came)]
        as_if = np.isin(np.array(ids, np.bytes_), again)
        status = np.array(statuses)
        counted = (status == Status.COUNTED.value) | as_if
        waiting = (status == Status.HELD.value) & ~as_if
        day_said = [day is not None for day in knitted]
        about = [whose, versions, days, day_said, counted, waiting]
        values = np.array(said, np.float64).T
        yield np.column_stack([*about, coded(ids), values])


def _day_number(knitted: date | None, came: datetime) -> int:
    """Return the number of the day, in UTC, on which a sock was finished or its report came."""
    if knitted is not None:
        return knitted.toordinal()
    return (came if came.tzinfo is None else came.astimezone(UTC)).toordinal()
