"""Asking where a database stands, without alembic: a server only asks, and starts sooner so."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

from sqlalchemy import Connection, column, inspect, select, table

from models.tables.engine import open_engine, reading

_STEP = re.compile(r"r(\d+)_\w+\.py")
_VERSIONS = table("alembic_version", column("version_num"))


@cache
def head() -> str:
    """Return the newest revision; steps are numbered in their order."""
    files = (Path(__file__).parent / "versions").iterdir()
    return max(step[1] for file in files if (step := _STEP.fullmatch(file.name)))


def lacks_steps(revision: str | None) -> bool:
    """Return whether a database at a revision lacks steps that this version relies on."""
    return revision is None or not revision.isdigit() or int(revision) < int(head())


def is_newer(revision: str | None) -> bool:
    """Return whether a database at a revision has steps that this version does not know.

    They only added to what this version knows, so it can serve there.
    """
    return not lacks_steps(revision) and revision != head()


def current(url: str) -> str | None:
    """Return the revision of a database, or None where it was never migrated."""
    engine = open_engine(url)
    try:
        with reading(engine).connect() as connection:
            return revision_of(connection)
    finally:
        engine.dispose()


def revision_of(connection: Connection) -> str | None:
    """Return the revision of the database that a connection is open on."""
    if not inspect(connection).has_table(_VERSIONS.name):
        return None
    return connection.scalar(select(_VERSIONS.c.version_num))
