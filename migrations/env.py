"""Run by alembic for every command: all steps and their version row in one transaction.

A process that dies half-way thus leaves the schema and the rows as they were, on SQLite too, and
a second process that migrates at the same time waits for the first and then finds nothing to do.
On PostgreSQL it gives up a table that others use for long, and tries again a little later.
"""

from __future__ import annotations

from typing import Any, Literal

from alembic import context
from alembic.util import CommandError
from sqlalchemy import Connection, Engine, text

from migrations import in_use
from models.tables.base import Base, Utc
from models.tables.engine import open_engine

PATIENCE_MS = 60_000
"""How long to wait on SQLite for another writer, who may be a longer migration."""

ADVISORY_LOCK = 5_408_132_970_641
"""Which PostgreSQL advisory lock a migration holds: any number, as long as it stays the same."""


def run(url: str) -> None:
    """Bring the database at a URL to where the running command wants it."""
    engine = open_engine(url)
    try:
        in_use.try_again(lambda: _run_once(engine))
    finally:
        engine.dispose()


def _run_once(engine: Engine) -> None:
    with engine.connect() as connection:
        if engine.dialect.name == "sqlite":
            _set_pragmas(connection)
        _configure(connection)
        with context.begin_transaction():
            _take_turn(connection)
            context.run_migrations()
            _check_references(connection)


def _set_pragmas(connection: Connection) -> None:
    """Suspend references while tables are rebuilt: dropping the old table would check or cascade.

    SQLite ignores this inside a transaction, and SQLAlchemy begins one before any statement, so it
    goes to the driver.
    """
    driver: Any = connection.connection.driver_connection
    driver.execute("PRAGMA foreign_keys = OFF")
    driver.execute(f"PRAGMA busy_timeout = {PATIENCE_MS}")


def _configure(connection: Connection) -> None:
    context.configure(
        connection=connection,
        target_metadata=Base.metadata,
        # Alembic holds that SQLite has none; the engine's own BEGIN IMMEDIATE gives it.
        transactional_ddl=True,
        render_as_batch=True,
        render_item=_render_item,
    )


def _take_turn(connection: Connection) -> None:
    """Wait for other migrations; on SQLite BEGIN IMMEDIATE has already done so.

    From then on PostgreSQL waits for no table longer than others can wait behind us.
    """
    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": ADVISORY_LOCK})
        in_use.wait_briefly(connection)


def _check_references(connection: Connection) -> None:
    """Refuse, before anything is committed, what suspended references let through."""
    if connection.dialect.name != "sqlite":
        return
    broken = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
    if broken:
        pairs = sorted({f"{row.table} -> {row.parent}" for row in broken})
        raise CommandError(
            f"nothing was changed: {len(broken)} rows would lose what they refer to "
            f"({', '.join(pairs)})"
        )


def _render_item(kind: str, item: Any, _context: object) -> str | Literal[False]:
    """Write a draft's moments without the tables' own type, which a migration may not import."""
    if kind == "type" and isinstance(item, Utc):
        return "sa.DateTime(timezone=True)"
    return False


run(context.config.attributes["url"])
