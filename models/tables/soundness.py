"""Whether a database is sound: its file, its references, its checks."""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import (
    CheckConstraint,
    Connection,
    ForeignKeyConstraint,
    Table,
    and_,
    exists,
    func,
    not_,
    select,
    text,
)

from models.tables.base import Base


def unsound(connection: Connection) -> Iterator[str]:
    """Yield, in words, whatever is wrong with a database at head.

    The database itself refuses such rows; they come from a failing disk, from a file that was
    copied while in use, or from somebody who wrote past the constraints.
    """
    yield from _broken_file(connection)
    for table in Base.metadata.sorted_tables:
        for constraint in sorted(table.constraints, key=lambda found: str(found.name)):
            if isinstance(constraint, ForeignKeyConstraint):
                yield from _orphans(connection, table, constraint)
            elif isinstance(constraint, CheckConstraint):
                yield from _impossible(connection, table, constraint)


def covered(connection: Connection) -> tuple[str, str]:
    """Return, in words, what `unsound` looks at, and what it leaves to the database's own tools."""
    rows = "references and checks of all rows"
    if connection.dialect.name == "sqlite":
        return f"the file with its indexes; {rows}", ""
    return rows, "PostgreSQL's files and indexes, and so whether keys are unique (pg_amcheck); "


def _broken_file(connection: Connection) -> Iterator[str]:
    """Yield what SQLite finds wrong in its file; PostgreSQL has tools of its own for that."""
    if connection.dialect.name == "sqlite":
        for (finding,) in connection.exec_driver_sql("PRAGMA integrity_check"):
            if finding != "ok":
                yield f"the file is damaged: {finding}"


def _orphans(
    connection: Connection, table: Table, constraint: ForeignKeyConstraint
) -> Iterator[str]:
    kept_in = constraint.referred_table
    parent = kept_in.alias("parent")
    pairs = [(key.parent, parent.c[key.column.name]) for key in constraint.elements]
    named = and_(*(column.is_not(None) for column, _ in pairs))
    found = exists().where(*(column == target for column, target in pairs))
    if count := _count(connection, table, and_(named, not_(found))):
        columns = ", ".join(column.name for column, _ in pairs)
        yield f"{table.name}: {count} rows name by {columns} what is not in {kept_in.name}"


def _impossible(connection: Connection, table: Table, constraint: CheckConstraint) -> Iterator[str]:
    broken = text(f"NOT ({constraint.sqltext})")
    if count := _count(connection, table, broken):
        yield f"{table.name}: {count} rows break the check {constraint.name}"


def _count(connection: Connection, table: Table, condition: object) -> int:
    query = select(func.count()).select_from(table).where(condition)  # type: ignore[arg-type]
    return connection.scalar(query) or 0
