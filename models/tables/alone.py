"""One at a time, among all processes that work on a database.

Such a lock goes with whoever holds it, also where that is killed: PostgreSQL keeps it for a
connection, and beside a SQLite file it is the lock of another SQLite file, in which nothing is.
"""

from __future__ import annotations

import hashlib
import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Protocol

from sqlalchemy import Connection, func, select
from sqlalchemy.exc import DBAPIError, OperationalError

from models.domain.errors import Busy
from models.tables.engine import Database

SECONDS_BETWEEN_LOOKS = 0.5


class Turn(Protocol):
    """What one at a time can have."""

    def taken(self, seconds: float) -> bool:
        """Wait for it about so long, and return whether it came."""

    def back(self) -> None:
        """Let the next one have it."""


@contextmanager
def alone(
    database: Database, what: str, heard: Callable[[], None], patience_s: float = float("inf")
) -> Iterator[None]:
    """Do something while nobody else does the same; `heard` is called as long as others do.

    Raises
    ------
    Busy
        Where others are at it for longer than `patience_s`.

    """
    with _turn(database, what) as turn:
        _wait(turn, heard, time.monotonic() + patience_s)
        try:
            yield
        finally:
            turn.back()


def _wait(turn: Turn, heard: Callable[[], None], until: float) -> None:
    while not turn.taken(SECONDS_BETWEEN_LOOKS):
        heard()
        if time.monotonic() > until:
            raise Busy("the same is being done just now: wait for that, or try again")


@contextmanager
def _turn(database: Database, what: str) -> Iterator[Turn]:
    if database.engine.dialect.name == "postgresql":
        with database.engine.connect() as connection:
            yield _OfPostgresql(connection.execution_options(isolation_level="AUTOCOMMIT"), what)
        return
    folder = Path(f"{database.engine.url.database}-turns")
    folder.mkdir(exist_ok=True)
    name = hashlib.sha256(what.encode()).hexdigest()[:32]
    with closing(_opened(folder / name)) as connection:
        yield _OfSqlite(connection)


def _opened(file: Path) -> sqlite3.Connection:
    """Open a lock; it may be given back by another thread, as an answer's end is."""
    return sqlite3.connect(file, isolation_level=None, check_same_thread=False)


class _OfSqlite:
    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection

    def taken(self, seconds: float) -> bool:
        self._connection.execute(f"PRAGMA busy_timeout = {int(seconds * 1000)}")
        try:
            self._connection.execute("BEGIN EXCLUSIVE")
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode == sqlite3.SQLITE_BUSY:
                return False
            # As any statement's: whoever asks tells a full disk by it.
            raise OperationalError("BEGIN EXCLUSIVE", None, error) from error
        return True

    def back(self) -> None:
        self._connection.execute("ROLLBACK")


class _OfPostgresql:
    """A lock that belongs to a connection, outside of any transaction."""

    def __init__(self, connection: Connection, what: str) -> None:
        self._connection, self._key = connection, func.hashtextextended(what, 0)

    def taken(self, seconds: float) -> bool:
        if self._connection.scalar(select(func.pg_try_advisory_lock(self._key))):
            return True
        time.sleep(seconds)
        return False

    def back(self) -> None:
        # Where the connection broke the lock went with it, and what was done is kept.
        with suppress(DBAPIError):
            self._connection.execute(select(func.pg_advisory_unlock(self._key)))
