"""Migrating a PostgreSQL that others use: waiting for a table must not stop them for long.

A step that changes a table waits for everybody who reads it, such as a backup, and everybody who
comes later waits behind that step. So it waits briefly, lets them through, and tries again.
"""

from __future__ import annotations

import time
from collections.abc import Callable

from sqlalchemy import Connection, text
from sqlalchemy.exc import DBAPIError

from models.domain.errors import Unavailable
from models.tables.refusals import sqlstate

WAIT_MS = 5_000
"""How long a step waits for a table, and others behind it."""

PAUSES_S = (5, 10, 20, 40)
"""How long others are let through, after each try but the last."""

IN_USE = frozenset({"55P03", "40P01"})
"""PostgreSQL's codes of errors for a lock that did not come in time, and one that never would."""


def wait_briefly(connection: Connection) -> None:
    """Have the rest of a transaction fail where it would wait for others for long."""
    connection.execute(text("SELECT set_config('lock_timeout', :ms, true)"), {"ms": str(WAIT_MS)})


def try_again(migrate: Callable[[], None]) -> None:
    """Migrate, once more after each pause where others use what is to be changed.

    Raises
    ------
    Unavailable
        Where they still do after the last pause; nothing was changed.

    """
    for pause in (*PAUSES_S, None):
        try:
            migrate()
        except DBAPIError as error:
            if sqlstate(error) not in IN_USE:
                raise
            if pause is None:
                raise Unavailable(_said(error)) from error
            time.sleep(pause)
        else:
            return


def _said(error: DBAPIError) -> str:
    tried = error.statement.partition("\n")[0] if error.statement else "a step"
    return (
        f"nothing was changed: others kept a table in use that {tried!r} needs, at each of "
        f"{len(PAUSES_S) + 1} tries; wait for backups, exports and imports to end, or see in "
        "pg_stat_activity who has had a transaction open for long, and upgrade again"
    )
