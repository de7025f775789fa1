"""Making rows that somebody else may be making at the same moment."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session

from models.tables.base import Base


def insert_new(session: Session, kind: type[Base], rows: Sequence[Mapping[str, Any]]) -> list[str]:
    """Insert rows, leaving out those whose unique columns are taken, and return the new ids.

    Where another transaction is making the same row, this waits for it to end.
    """
    if not rows:
        return []
    dialect = session.get_bind().dialect.name
    insert = postgresql.insert if dialect == "postgresql" else sqlite.insert
    statement = insert(kind).on_conflict_do_nothing().returning(kind.__table__.c.id)
    return list(session.connection().execute(statement, list(rows)).scalars())
