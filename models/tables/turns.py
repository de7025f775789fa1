"""Turns at writing, among the threads of one process.

SQLite lets one connection write, and whoever finds it taken sleeps and looks again: with many
threads some sleep on while others come and go, for seconds. Threads of one process therefore wait
for each other here first, and are woken when it is their turn; other processes are still waited for
as SQLite does.
"""

from __future__ import annotations

import time
from threading import BoundedSemaphore, Lock
from typing import Any

from sqlalchemy import Engine, PoolProxiedConnection, event
from sqlalchemy.pool import ConnectionPoolEntry

SOON_S = 2.0
"""So long everybody waits. While another process writes for longer, some threads wait on and the
others give up, so that not all of them wait and somebody is left for those who only read."""


class Turns:
    """Who of this process may begin to write."""

    def __init__(self, engine: Engine, patience_s: float, most_patient: int) -> None:
        """Give a turn back whenever its connection goes back to the pool.

        Who waits does so for `patience_s`, `most_patient` threads at once for longer than
        `SOON_S`.
        """
        self.patience_s, self._patient = patience_s, BoundedSemaphore(most_patient)
        self._lock = Lock()
        self._holder: object = None
        event.listen(engine, "checkin", self._back)

    def take(self, pooled: PoolProxiedConnection) -> float:
        """Wait for the turn of a connection, and return how many seconds of patience are left.

        That is all of it where the wait was short. Without any there is no turn, and SQLite may
        only be asked at once.
        """
        own = pooled.record_info
        if self._holder is own:
            return self.patience_s
        if self._lock.acquire(timeout=min(SOON_S, self.patience_s)):
            left = self.patience_s
        else:
            left = self._left_of_long_wait()
        if left:
            self._holder = own
        return left

    def _left_of_long_wait(self) -> float:
        """Wait on, where not too many do so already."""
        until = time.monotonic() + self.patience_s - SOON_S
        if not self._patient.acquire(blocking=False):
            return 0.0
        try:
            came = self._lock.acquire(timeout=max(0.0, until - time.monotonic()))
        finally:
            self._patient.release()
        return max(0.001, until - time.monotonic()) if came else 0.0

    def _back(self, _connection: Any, entry: ConnectionPoolEntry) -> None:
        if self._holder is entry.record_info:
            self._holder = None
            self._lock.release()
