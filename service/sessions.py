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

from flask import Response, request

from models.actions.accounts import LIFE
from models.domain.errors import Forbidden
from service.work import READING

COOKIE = "__Host-heeldepth"
CSRF_HEADER = "X-CSRF-Token"

_ATTRIBUTES = {"secure": True, "httponly": True, "samesite": "Lax", "path": "/"}


def session_id() -> str | None:
    """Return the session id that the browser sent, or None."""
    return request.cookies.get(COOKIE)


def csrf_token(session_id: str) -> str:
    """Return the value that our own pages send along with whatever changes something."""
    return hmac.new(session_id.encode(), b"csrf", hashlib.sha256).hexdigest()


def require_from_our_pages(session_id: str) -> None:
    """Raise `Forbidden` where a change does not carry the value that only our pages know."""
    if request.method in READING:
        return
    given = request.headers.get(CSRF_HEADER, "")
    if not hmac.compare_digest(given.encode(), csrf_token(session_id).encode()):
        raise Forbidden(f"send the csrf_token that you got at login as {CSRF_HEADER}")


def remember(answer: Response, session_id: str) -> Response:
    """Let the browser keep a session id for as long as the session lasts."""
    answer.set_cookie(COOKIE, session_id, max_age=LIFE, **_ATTRIBUTES)  # type: ignore[arg-type]
    return answer


def forget(answer: Response) -> Response:
    """Let the browser drop its session id."""
    answer.delete_cookie(COOKIE, **_ATTRIBUTES)  # type: ignore[arg-type]
    return answer
