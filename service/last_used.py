"""When tokens were last used: noted at most once a minute, and never waited for.

A note is a transaction of its own after the answer was worked out. Where somebody else is writing
it is left out, and the next use of the token notes it.
"""

from __future__ import annotations

import time
from datetime import timedelta
from threading import Lock

from flask import Flask, Response, current_app, g
from sqlalchemy.exc import OperationalError

from models.actions.tokens import note_used
from models.tables.base import now
from service.work import database

GAP = timedelta(minutes=1)
MOST_REMEMBERED = 10_000


class LastUsed:
    """Which tokens this process noted in the last minute."""

    def __init__(self) -> None:
        self._noted: dict[str, float] = {}
        self._lock = Lock()

    def due(self, token_id: str) -> bool:
        """Return whether a use is to be noted, and count it as noted."""
        moment = time.monotonic()
        with self._lock:
            if moment - self._noted.get(token_id, -GAP.total_seconds()) < GAP.total_seconds():
                return False
            if len(self._noted) >= MOST_REMEMBERED:
                self._noted.clear()
            self._noted[token_id] = moment
            return True

    def again(self, token_id: str) -> None:
        """Let the next use be noted after all."""
        with self._lock:
            self._noted.pop(token_id, None)


def register(app: Flask) -> None:
    """Note the tokens that an application is shown."""
    app.extensions["heeldepth_last_used"] = LastUsed()
    app.after_request(_noted)


def _noted(answer: Response) -> Response:
    token_id = g.asker.token_id if "asker" in g else None
    remembered: LastUsed = current_app.extensions["heeldepth_last_used"]
    if token_id is not None and remembered.due(token_id):
        try:
            with database().jot.begin() as session:
                note_used(session, token_id, now(), GAP)
        except OperationalError:
            current_app.logger.debug("the use of a token was not noted: the database is busy")
            remembered.again(token_id)
    return answer
