"""Turns at writing, among the threads of one process.

SQLite lets one connection write, and whoever finds it taken sleeps and looks again: with many
threads some sleep on while others come and go, for seconds. Threads of one process therefore wait
for each other here first, and are woken when it is their turn; other processes are still waited for
as SQLite does.
"""

from __future__ import annotations

from threading import Lock
from typing import Any

from sqlalchemy import Engine, PoolProxiedConnection, event
from sqlalchemy.pool import ConnectionPoolEntry


class Turns:
    """Who of this process may begin to write."""

    def __init__(self, engine: Engine, patience_s: float) -> None:
        """Give a turn back whenever its connection goes back to the pool."""
        self._patience_s = patience_s
        self._lock = Lock()
        self._holder: object = None
        event.listen(engine, "checkin", self._back)

    def take(self, pooled: PoolProxiedConnection) -> None:
        """Wait for the turn of a connection; who waited too long goes on to ask SQLite itself."""
        own = pooled.record_info
        if self._holder is not own and self._lock.acquire(timeout=self._patience_s):
            self._holder = own

    def _back(self, _connection: Any, entry: ConnectionPoolEntry) -> None:
        if self._holder is entry.record_info:
            self._holder = None
            self._lock.release()
