"""A copy of the database that answers reading requests, for as long as it answers."""

from __future__ import annotations

import time

from flask import Flask, current_app
from sqlalchemy import make_url
from sqlalchemy.orm import Session

from models.tables.engine import Database
from service.config import Settings

REST_SECONDS = 30.0
"""How long a replica that did not answer is left alone."""

_PATIENCE = "2"
"""Seconds in which it must take a connection."""


class Replica:
    """Sessions on a copy that PostgreSQL keeps up to date; what it lags behind is not seen here."""

    def __init__(self, url: str, connections: int) -> None:
        patient = make_url(url).update_query_dict({"connect_timeout": _PATIENCE})
        self._copy = Database(patient.render_as_string(hide_password=False), connections)
        self._rests_until = 0.0

    def session(self) -> Session | None:
        """Return a session that reads, None while the copy rests."""
        return None if time.monotonic() < self._rests_until else self._copy.read()

    def rest(self) -> None:
        """Leave the copy alone for a while: it did not answer."""
        self._rests_until = time.monotonic() + REST_SECONDS
        current_app.logger.warning("the replica did not answer: the primary does for a while")

    def close(self) -> None:
        """Give all connections back."""
        self._copy.close()


def register(app: Flask, settings: Settings) -> None:
    """Let an application read from the replica of its settings, if there is one."""
    url = settings.replica_url
    app.extensions["heeldepth_replica"] = Replica(url, 2 * settings.threads) if url else None


def replica() -> Replica | None:
    """Return the replica of the running application."""
    found: Replica | None = current_app.extensions["heeldepth_replica"]
    return found
