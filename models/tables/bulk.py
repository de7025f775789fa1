"""Putting rows in without an object of the session for each, and many of them at once."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from functools import cache
from typing import Any

from sqlalchemy import Connection, FromClause, Insert, insert
from sqlalchemy.orm import Session

from models.tables.base import Base, new_id

_AT_ONCE = 500


def insert_row(session: Session, kind: type[Base], values: Mapping[str, Any]) -> str:
    """Insert one row, for half of what an object of the session would cost, and return its id."""
    row = {"id": new_id(), **values}
    session.connection().execute(_into(kind), row)
    return str(row["id"])


@cache
def _into(kind: type[Base]) -> Insert:
    """Return the statement, which is made once: made for each row it costs half of the insert."""
    return insert(kind)


def insert_columns(
    connection: Connection, table: FromClause, columns: Mapping[str, Sequence[Any]]
) -> None:
    """Insert rows given as columns of one length.

    The conversion of values is SQLAlchemy's own; the rows go to the driver in one call.
    """
    dialect = connection.dialect
    converted = {name: _converted(table.c[name], columns[name], dialect) for name in columns}
    if dialect.name == "postgresql":
        _copy(connection, table, converted)
    else:
        _insert(connection, table, converted)


def in_parts(ids: Collection[Any]) -> Iterator[list[Any]]:
    """Yield ids, sorted, in parts that fit into one statement."""
    ordered = sorted(ids)
    for first in range(0, len(ordered), _AT_ONCE):
        yield ordered[first : first + _AT_ONCE]


def _insert(
    connection: Connection, table: FromClause, columns: Mapping[str, Sequence[Any]]
) -> None:
    statement = insert(table).values(dict.fromkeys(columns))  # type: ignore[arg-type]
    compiled = statement.compile(dialect=connection.dialect, column_keys=list(columns))
    order = compiled.positiontup or list(columns)
    rows = list(zip(*(columns[name] for name in order), strict=True))
    connection.exec_driver_sql(compiled.string, rows)


def _copy(connection: Connection, table: FromClause, columns: Mapping[str, Sequence[Any]]) -> None:
    """Insert by COPY, which takes less than half the time of INSERT (`.bench/imports.py`)."""
    quoted = connection.dialect.identifier_preparer
    names = ", ".join(quoted.quote(name) for name in columns)
    driver: Any = connection.connection.driver_connection
    with driver.cursor() as cursor:
        with cursor.copy(f"COPY {quoted.format_table(table)} ({names}) FROM STDIN") as copy:
            for row in zip(*columns.values(), strict=True):
                copy.write_row(row)


def _converted(column: Any, values: Sequence[Any], dialect: Any) -> Sequence[Any]:
    convert = column.type.dialect_impl(dialect).bind_processor(dialect)
    if convert is None:
        return values
    known = {value: convert(value) for value in set(values)}
    return [known[value] for value in values]
