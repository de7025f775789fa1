"""One at a time, among all processes that work on a database.

PostgreSQL keeps such locks itself and lets go of them where a connection breaks. A SQLite file is
served by one process: there the threads wait for each other.
"""

from __future__ import annotations

import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from threading import Lock
from typing import Protocol

from sqlalchemy import Connection, func, select

from models.domain.errors import Conflict
from models.tables.engine import Database

SECONDS_BETWEEN_LOOKS = 0.5

_locks: defaultdict[tuple[str, str], Lock] = defaultdict(Lock)


class Turn(Protocol):
    """What one at a time can have."""

    def taken(self, seconds: float) -> bool:
        """Wait for it so long, and return whether it came."""

    def back(self) -> None:
        """Let the next one have it."""


@contextmanager
def alone(
    database: Database, what: str, heard: Callable[[], None], patience_s: float = float("inf")
) -> Iterator[None]:
    """Do something while nobody else does the same; `heard` is called as long as others do.

    Raises
    ------
    Conflict
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
            raise Conflict("the same is being done just now: wait for that, or try again")


@contextmanager
def _turn(database: Database, what: str) -> Iterator[Turn]:
    if database.engine.dialect.name == "postgresql":
        with database.engine.connect() as connection:
            yield _OfPostgresql(connection.execution_options(isolation_level="AUTOCOMMIT"), what)
    else:
        yield _OfThreads(_locks[str(database.engine.url), what])


class _OfThreads:
    def __init__(self, lock: Lock) -> None:
        self._lock = lock

    def taken(self, seconds: float) -> bool:
        return self._lock.acquire(timeout=seconds)

    def back(self) -> None:
        self._lock.release()


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
        self._connection.execute(select(func.pg_advisory_unlock(self._key)))
