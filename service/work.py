"""One transaction a request: opened when first needed, committed if the request succeeded."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from flask import current_app, g, request
from sqlalchemy.orm import Session

from models.tables.engine import Database

READING = frozenset({"GET", "HEAD", "OPTIONS"})


def database() -> Database:
    """Return the database of the running application."""
    found: Database = current_app.extensions["heeldepth"]
    return found


def session() -> Session:
    """Return the session of this request."""
    if "session" not in g:
        opened = database().read if request.method in READING else database().write
        g.session = opened()
    current: Session = g.session
    return current


def undo() -> None:
    """Undo what this request has changed so far; what it does afterwards counts."""
    if "session" in g:
        g.session.rollback()


def after_commit(then: Callable[[], None]) -> None:
    """Do something once what the request did is there for others to see."""
    g.setdefault("after_commit", []).append(then)


@contextmanager
def unit_of_work() -> Iterator[None]:
    """Commit what the request did, or undo all of it where anything was raised."""
    try:
        yield
        if "session" in g:
            g.session.commit()
        for then in g.pop("after_commit", []):
            then()
    finally:
        if "session" in g:
            g.pop("session").close()
