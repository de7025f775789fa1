"""`Idempotency-Key`: a POST sent twice is done once and answered twice.

The key, a digest of the request and the answer are stored in the transaction of the request
itself, so an answer is remembered exactly if its effect is. Of two requests with one key at the
same moment, the later one finds the key taken, undoes what it did and gives the answer of the
first. The key is stored last, so that no lock is held while a request is being worked out.

References
----------
draft-ietf-httpapi-idempotency-key-header-07: the header's name, 422 for a key with another request.

"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from datetime import timedelta
from functools import wraps
from typing import Any

from flask import Response, current_app, g, request
from flask.typing import ResponseReturnValue
from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from models.domain.errors import Fault, Invalid, KeyReused
from models.tables.base import now
from models.tables.claim import insert_new
from models.tables.people import IdempotencyKey
from service.sessions import CSRF_FIELD
from service.uploads import body_pieces
from service.work import database, session, undo

HEADER = "Idempotency-Key"
FORM = "application/x-www-form-urlencoded"
BAD_REQUEST = 400
"""What was refused is not kept: it may be put right and sent again under the same key."""

LONGEST_KEY = 255
KEPT = timedelta(hours=24)

DOCUMENTED = {
    "in": "header",
    "name": HEADER,
    "schema": {"type": "string", "minLength": 1, "maxLength": LONGEST_KEY},
    "description": "Sent again with the same key, the request is answered again but done once; "
    "keys are kept for 24 hours.",
}


View = Callable[..., ResponseReturnValue]


def once_by(given: Callable[[], str | None]) -> Callable[[View], View]:
    """Return a decorator that does a POST of a known person at most once by the key it gives."""

    def decorate(view: View) -> View:
        @wraps(view)
        def wrapped(*args: Any, **path: Any) -> ResponseReturnValue:
            key = given()
            if request.method != "POST" or key is None or "person_id" not in g:
                return view(*args, **path)
            _require_usable(key)
            with database().read() as reading:
                known = _known(reading, key)
            if known is not None:
                return _replayed(known)
            answer = current_app.make_response(view(*args, **path))
            if answer.status_code >= BAD_REQUEST or _keep(key, answer):
                return answer
            undo()
            return _replayed(_known(session(), key))

        return wrapped

    return decorate


once = once_by(lambda: request.headers.get(HEADER))
"""Do a POST of a known person with the header at most once."""


def forget(location: str) -> None:
    """Forget the answers about what was at an address: it is gone."""
    session().execute(delete(IdempotencyKey).where(IdempotencyKey.location == location))


def _require_usable(key: str) -> None:
    if not 1 <= len(key) <= LONGEST_KEY or not key.isprintable():
        wanted = f"it must be 1 to {LONGEST_KEY} printable characters"
        raise Invalid([Fault(HEADER, key, wanted)])


def _known(reading: Session, key: str) -> IdempotencyKey | None:
    """Return what a key was used for in the time that keys are kept."""
    return reading.scalar(
        select(IdempotencyKey).where(
            IdempotencyKey.person_id == g.person_id,
            IdempotencyKey.key == key,
            IdempotencyKey.created_at > now() - KEPT,
        )
    )


def _replayed(known: IdempotencyKey | None) -> Response:
    """Return the answer that a key already got.

    Raises
    ------
    KeyReused
        Where it came with another request, or was forgotten while this one was being answered.

    """
    if known is None or known.request_digest != _digest():
        raise KeyReused(f"this {HEADER} came with another request before; use a new one")
    answer = Response(known.body, known.status, mimetype="application/json")
    if known.location:
        answer.headers["Location"] = known.location
    if known.etag:
        answer.headers["ETag"] = known.etag
    answer.headers["Idempotent-Replay"] = "true"
    return answer


def _keep(key: str, answer: Response) -> bool:
    """Keep an answer under a key, and return whether the key was still free."""
    mine = IdempotencyKey.person_id == g.person_id
    session().execute(delete(IdempotencyKey).where(mine, IdempotencyKey.created_at <= now() - KEPT))
    row = {
        "person_id": g.person_id,
        "key": key,
        "request_digest": _digest(),
        "status": answer.status_code,
        "location": answer.headers.get("Location"),
        "etag": answer.headers.get("ETag"),
        "body": answer.get_data(as_text=True),
    }
    return bool(insert_new(session(), IdempotencyKey, [row]))


def _digest() -> str:
    """Return the SHA-256 of what the request asks for."""
    digest = hashlib.sha256(f"{request.method} {request.full_path}\n".encode())
    form = _form()
    for piece in [form] if form else body_pieces():
        digest.update(piece)
    return digest.hexdigest()


def _form() -> bytes:
    """Return what a form says; the value against forgery differs from login to login."""
    if request.mimetype != FORM:
        return b""
    said = [pair for pair in request.form.items(multi=True) if pair[0] != CSRF_FIELD]
    return repr(said).encode()
