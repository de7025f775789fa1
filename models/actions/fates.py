"""What becomes of rows when those they refer to are erased: one entry for every reference.

From it follow what an erasure deletes, what it detaches, and what an export of everything about
somebody holds. A test finds a reference that has no entry.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from enum import StrEnum
from typing import Any

from sqlalchemy import Column, ForeignKeyConstraint, Table, delete, select, update
from sqlalchemy.orm import Session

from models.tables.base import Base
from models.tables.bulk import in_parts

Rows = dict[str, set[Any]]
"""Ids by the name of their table."""


class Fate(StrEnum):
    """What becomes of a row whose reference is erased."""

    DELETE = "goes along"
    DETACH = "stays and forgets whom it referred to"


FATES: dict[str, Fate] = {
    "members.person_id": Fate.DELETE,
    "accounts.person_id": Fate.DELETE,
    "login_sessions.person_id": Fate.DELETE,
    "password_resets.person_id": Fate.DELETE,
    "password_resets.issuer_id": Fate.DETACH,
    "tokens.person_id": Fate.DELETE,
    "idempotency_keys.person_id": Fate.DELETE,
    "feet.member_id": Fate.DELETE,
    "reports.member_id": Fate.DELETE,
    "reports.foot_id": Fate.DELETE,
    "reports.suggestion_id": Fate.DETACH,
    "reviews.report_id": Fate.DELETE,
    "reviews.member_id": Fate.DETACH,
    "suggestions.member_id": Fate.DELETE,
    "suggestions.calibration_id": Fate.DETACH,
    "invitations.reporter_id": Fate.DELETE,
    "invitations.member_id": Fate.DETACH,
    "activations.calibration_id": Fate.DELETE,
    "activations.member_id": Fate.DETACH,
    "adoptions.calibration_id": Fate.DETACH,
    "adoptions.member_id": Fate.DETACH,
    "adoptions.undone_by_id": Fate.DETACH,
    "jobs.member_id": Fate.DELETE,
    "job_pieces.job_id": Fate.DELETE,
    "contributions.calibration_id": Fate.DELETE,
    "contributions.member_id": Fate.DETACH,
    "pool_uses.member_id": Fate.DETACH,
    "taken_summaries.member_id": Fate.DETACH,
}
"""By table and column. What rests on a calibration elsewhere is withdrawn by DELETE here."""


def reached(session: Session, start: Rows, *, hold: bool = False) -> Rows:
    """Return the rows that go when some do, these among them.

    With `hold` they are locked, each kind before what refers to it is looked for: nobody can refer
    to one any more before it is gone.
    """
    found: Rows = {name: set(ids) for name, ids in start.items()}
    for table in Base.metadata.sorted_tables:  # what is referred to comes first
        for column, parent in references(table, Fate.DELETE):
            ids = found.setdefault(table.name, set())
            for some in in_parts(found.get(parent, ())):
                ids |= set(session.scalars(select(table.c.id).where(column.in_(some))))
        if hold:
            _hold(session, table, found.get(table.name, ()))
    return {name: ids for name, ids in found.items() if ids}


def remove(session: Session, rows: Rows) -> None:
    """Delete rows that `reached` found, and detach what refers to them."""
    tables = Base.metadata.sorted_tables
    for table in tables:
        for column, parent in references(table, Fate.DETACH):
            for some in in_parts(rows.get(parent, ())):
                nobody = {column.name: None}
                session.execute(update(table).where(column.in_(some)).values(nobody))
    for table in reversed(tables):
        for some in in_parts(rows.get(table.name, ())):
            session.execute(delete(table).where(table.c.id.in_(some)))
    session.expire_all()


def references(table: Table, *fates: Fate) -> Iterator[tuple[Column[Any], str]]:
    """Yield the columns of a table that have one of some fates, with the table they refer to."""
    for constraint in table.constraints:
        if isinstance(constraint, ForeignKeyConstraint):
            column = table.c[constraint.column_keys[-1]]
            if FATES.get(str(column)) in fates:
                yield column, constraint.referred_table.name


def _hold(session: Session, table: Table, ids: Collection[Any]) -> None:
    """Lock rows of a table, in an order in which nobody waits in a ring."""
    for some in in_parts(ids):
        rows = select(table.c.id).where(table.c.id.in_(some)).order_by(table.c.id)
        session.execute(rows.with_for_update())
