"""Writing a group's reports as the CSV file that `import` takes in."""

from __future__ import annotations

import csv
from collections.abc import Callable
from typing import IO, Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from models.actions.actor import Actor
from models.actions.spreadsheet import safe_cell
from models.domain.errors import Forbidden
from models.domain.foot import MEASUREMENT_NAMES
from models.domain.reports import OPTIONAL_COLUMNS, REQUIRED_COLUMNS
from models.tables.people import Member
from models.tables.socks import Design, Foot, Report, Size

COLUMNS = (*REQUIRED_COLUMNS, *OPTIONAL_COLUMNS)
_ROWS_AT_ONCE = 5000

_ELSEWHERE = {
    "reporter": Member.name,
    "design": Design.name,
    "size": Size.label,
    **{name: getattr(Foot, name) for name in MEASUREMENT_NAMES},
}


def _column(name: str) -> Any:
    return _ELSEWHERE[name] if name in _ELSEWHERE else getattr(Report, name)


def count_reports(session: Session, actor: Actor) -> int:
    """Return how many reports an export will have."""
    query = select(func.count()).select_from(Report).where(Report.group_id == actor.group_id)
    return session.scalar(query) or 0


def export_reports(
    session: Session,
    actor: Actor,
    out: IO[str],
    progress: Callable[[int], None] = lambda _rows: None,
) -> int:
    """Write all reports of the group, oldest first, and return how many there were.

    Raises
    ------
    Forbidden
        Where it is not the operator who asks: nobody else sees all measurements.

    """
    if not actor.is_operator:
        raise Forbidden("only the operator exports the reports of all")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    written = 0
    query = (
        select(*map(_column, COLUMNS))
        .join(Member, Member.id == Report.member_id)
        .join(Foot, Foot.id == Report.foot_id)
        .outerjoin(Design, Design.id == Report.design_id)
        .outerjoin(Size, Size.id == Report.size_id)
        .where(Report.group_id == actor.group_id)
        .order_by(Report.id)
    )
    for rows in session.execute(query.execution_options(yield_per=_ROWS_AT_ONCE)).partitions():
        writer.writerows([_cell(value) for value in row] for row in rows)
        written += len(rows)
        progress(len(rows))
    return written


def _cell(value: object) -> object:
    """Return a value as its cell; whole numbers of mm lose the empty decimal."""
    if isinstance(value, float) and value.is_integer():
        return int(value)
    return safe_cell(value)
