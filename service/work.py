"""One transaction a request: opened when first needed, committed if the request succeeded.

Where there is a replica, requests to the REST interface that only read are answered from it. Who
asks is always looked up on the primary, so what was revoked is revoked at the next request.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, ExitStack, contextmanager
from typing import TypeVar

from flask import current_app, g, request
from sqlalchemy.exc import OperationalError, ProgrammingError
from sqlalchemy.exc import TimeoutError as PoolTimeout
from sqlalchemy.orm import Session

from models.domain.errors import NotFound
from models.tables.engine import Database
from service.apart import Workroom
from service.replica import replica

T = TypeVar("T")

READING = frozenset({"GET", "HEAD", "OPTIONS"})


def database() -> Database:
    """Return the database of the running application."""
    found: Database = current_app.extensions["heeldepth"]
    return found


def workroom() -> Workroom:
    """Return where long arithmetic is done."""
    found: Workroom = current_app.extensions["heeldepth_workroom"]
    return found


def session() -> Session:
    """Return the session of this request."""
    if "session" not in g:
        g.session = _of_replica() or _of_primary()
    current: Session = g.session
    return current


def _of_primary() -> Session:
    return database().read() if request.method in READING else database().write()


def _of_replica() -> Session | None:
    """Return a session on the replica, None where the primary must answer.

    A page has one session for who asks and for what is shown, so pages are the primary's.
    """
    copy = replica()
    if copy is None or g.get("primary_only") or request.method not in READING:
        return None
    if not request.path.startswith("/v1/"):
        return None
    found = copy.session()
    g.from_replica = found is not None
    return found


def undo() -> None:
    """Undo what this request has changed so far; what it does afterwards counts."""
    g.pop("after_commit", None)
    if "session" in g:
        g.session.rollback()


def from_either(answer: Callable[[], T]) -> T:
    """Answer in a unit of work; from the primary after all where the replica cannot.

    A replica lags behind: what it has not got yet, columns among it, is looked for where it was
    written.
    """
    try:
        with unit_of_work():
            return answer()
    except (OperationalError, ProgrammingError, PoolTimeout, NotFound) as error:
        copy = replica()
        if copy is None or not g.get("from_replica"):
            raise
        if not isinstance(error, NotFound):
            copy.rest()
    g.from_replica, g.primary_only = False, True
    with unit_of_work():
        return answer()


def after_commit(then: Callable[[], None]) -> None:
    """Do something once what the request did is there for others to see."""
    g.setdefault("after_commit", []).append(then)


def until_the_end(context: AbstractContextManager[None]) -> None:
    """Enter a context that is left once what the request did is there for others, or undone."""
    if "contexts" not in g:
        g.contexts = ExitStack()
    g.contexts.enter_context(context)


@contextmanager
def unit_of_work() -> Iterator[None]:
    """Commit what the request did, or undo all of it where anything was raised."""
    try:
        yield
        if "session" in g:
            g.committing = request.method not in READING
            g.session.commit()
            g.committing = False
        for then in g.pop("after_commit", []):
            then()
    finally:
        with g.pop("contexts", ExitStack()):
            if "session" in g:
                g.pop("session").close()
