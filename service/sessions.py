"""Sessions of people who logged in: a cookie that only our own host gets, and no script.

A browser sends the cookie with any request to us, whoever made it; so whatever changes something
must also carry a value that only our own pages know. It follows from the session id, which a page
of somebody else cannot read. Requests with a bearer token need none: no browser adds a token.

References
----------
RFC 6265bis, cookie name prefixes: `__Host-` asks for Secure, Path=/ and no Domain. Secure on
http://127.0.0.1 is taken by browsers that count the loopback as trustworthy; some do not.

"""

from __future__ import annotations

import hashlib
import hmac
from datetime import datetime
from typing import TypeVar

from flask import request
from werkzeug.wrappers import Response

from models.actions import accounts
from models.actions.accounts import LIFE
from models.domain.errors import Forbidden
from service.work import READING, database, session

Answer = TypeVar("Answer", bound=Response)

COOKIE = "__Host-heeldepth"
CSRF_HEADER = "X-CSRF-Token"
CSRF_FIELD = "csrf_token"
"""The hidden field of the forms of pages."""

_ATTRIBUTES = {"secure": True, "httponly": True, "samesite": "Lax", "path": "/"}


def session_id() -> str | None:
    """Return the session id that the browser sent, or None."""
    return request.cookies.get(COOKIE)


def csrf_token(session_id: str) -> str:
    """Return the value that our own pages send along with whatever changes something."""
    return hmac.new(session_id.encode(), b"csrf", hashlib.sha256).hexdigest()


def require_from_our_pages(session_id: str) -> None:
    """Raise `Forbidden` where a change does not carry the value that only our pages know."""
    if request.method not in READING and not is_ours(session_id, request.headers.get(CSRF_HEADER)):
        raise Forbidden(f"send the csrf_token that you got at login as {CSRF_HEADER}")


def is_ours(session_id: str, given: str | None) -> bool:
    """Return whether a value is the one that only our own pages know."""
    return hmac.compare_digest((given or "").encode(), csrf_token(session_id).encode())


def log_in(username: str, password: str) -> tuple[str, datetime | None]:
    """Return the id of a new session, and when the password was replaced if that is news.

    The session that the browser had ends. The password is checked before the transaction that
    writes, for that takes a while.

    Raises
    ------
    Unauthenticated
        Where the username or the password is wrong; both are answered alike and as late.

    """
    with database().read() as reading:
        known = accounts.known(reading, username)
    person_id = accounts.require_password(known, password)
    accounts.require_unchanged(session(), known)
    return opened(person_id), accounts.taken_notice(session(), person_id)


def opened(person_id: str) -> str:
    """Return the id of a new session of a person; the one that the browser had ends."""
    close()
    return accounts.open_session(session(), person_id)


def close() -> None:
    """End the session of the cookie, not only in the browser."""
    shown = session_id()
    if shown is not None:
        accounts.close_session(session(), shown)


def remember(answer: Answer, session_id: str) -> Answer:
    """Let the browser keep a session id for as long as the session lasts."""
    answer.set_cookie(COOKIE, session_id, max_age=LIFE, **_ATTRIBUTES)  # type: ignore[arg-type]
    return answer


def forget(answer: Answer) -> Answer:
    """Let the browser drop its session id."""
    answer.delete_cookie(COOKIE, **_ATTRIBUTES)  # type: ignore[arg-type]
    return answer
