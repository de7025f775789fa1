"""Copying every row of one database into another, of whatever kind the two are."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, Table, func, insert, inspect, select, text

from models.tables.base import Base

ROWS_AT_ONCE = 2_000
"""Rows held in memory at once; a calibration's row, the longest kind, has some 100 kB."""

NOT_COPIED = frozenset({"kept_results"})
"""Tables of what can be worked out anew."""

Progress = Callable[[int], None]


def count_rows(connection: Connection) -> int:
    """Return how many rows there are in all tables, of which an older database has fewer."""
    there = set(inspect(connection).get_table_names())
    counts = [
        connection.scalar(select(func.count()).select_from(table)) or 0
        for table in Base.metadata.sorted_tables
        if table.name in there - NOT_COPIED
    ]
    return sum(counts)


def copy_rows(source: Connection, target: Connection, progress: Progress) -> int:
    """Copy all rows of all tables, what is referred to first; return how many.

    `target` must have the same tables, without rows. Nothing is committed.
    """
    copied = 0
    for table in Base.metadata.sorted_tables:
        if table.name in NOT_COPIED:
            continue
        for rows in _batches(source, table):
            target.execute(insert(table), rows)
            progress(len(rows))
            copied += len(rows)
        _count_on(target, table)
    return copied


def _batches(source: Connection, table: Table) -> Iterator[Sequence[Mapping[str, Any]]]:
    """Yield rows in the order of their key, so that equal databases give equal copies."""
    query = select(table).order_by(*table.primary_key.columns)
    found = source.execution_options(yield_per=ROWS_AT_ONCE).execute(query)
    for rows in found.mappings().partitions():
        yield [dict(row) for row in rows]


def _count_on(target: Connection, table: Table) -> None:
    """Let PostgreSQL number new rows after the copied ones; SQLite does so by itself."""
    column = table.autoincrement_column
    if column is None or target.dialect.name != "postgresql":
        return
    last = target.scalar(select(func.max(column)))
    if last is not None:
        target.execute(
            text("SELECT setval(pg_get_serial_sequence(:table, :column), :last)"),
            {"table": table.name, "column": column.name, "last": last},
        )
