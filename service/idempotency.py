"""`Idempotency-Key`: a POST sent twice is done once and answered twice.

The key, a digest of the request and the answer are stored in the transaction of the request
itself, so an answer is remembered exactly if its effect is. A second request with the same key
waits for the first by the database's own locking.

References
----------
draft-ietf-httpapi-idempotency-key-header-07: the header's name, 422 for a key with another request.

"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from functools import wraps
from typing import Any

from flask import Response, current_app, g, request
from flask.typing import ResponseReturnValue
from sqlalchemy import select, update
from sqlalchemy.dialects import postgresql, sqlite

from models.domain.errors import Fault, Invalid, KeyReused
from models.tables.base import new_id, now
from models.tables.people import IdempotencyKey
from service.work import session

HEADER = "Idempotency-Key"
LONGEST_KEY = 255

DOCUMENTED = {
    "in": "header",
    "name": HEADER,
    "schema": {"type": "string", "minLength": 1, "maxLength": LONGEST_KEY},
    "description": "Sent again with the same key, the request is answered again but done once.",
}


def once(view: Callable[..., ResponseReturnValue]) -> Callable[..., ResponseReturnValue]:
    """Do a POST with a key at most once for each person."""

    @wraps(view)
    def wrapped(*args: Any, **path: Any) -> ResponseReturnValue:
        key = request.headers.get(HEADER)
        if request.method != "POST" or key is None:
            return view(*args, **path)
        _require_usable(key)
        return _replayed(key) or _remembered(key, view(*args, **path))

    return wrapped


def _require_usable(key: str) -> None:
    if not 1 <= len(key) <= LONGEST_KEY or not key.isprintable():
        wanted = f"it must be 1 to {LONGEST_KEY} printable characters"
        raise Invalid([Fault(HEADER, key, wanted)])


def _replayed(key: str) -> Response | None:
    """Claim a key for this request, or return the answer that it already got."""
    claim = {
        "id": new_id(),
        "person_id": g.person_id,
        "key": key,
        "request_digest": _digest(),
        "created_at": now(),
    }
    if session().execute(_insert_new().values(claim)).rowcount:  # type: ignore[attr-defined]
        return None
    kept = session().execute(select(IdempotencyKey).where(*_this(key))).scalar_one()
    if kept.request_digest != claim["request_digest"]:
        raise KeyReused(f"this {HEADER} came with another request before; use a new one")
    answer = Response(kept.body, kept.status, mimetype="application/json")
    if kept.location:
        answer.headers["Location"] = kept.location
    answer.headers["Idempotent-Replay"] = "true"
    return answer


def _remembered(key: str, result: ResponseReturnValue) -> Response:
    """Keep the answer of a request that succeeded; a failed one is undone with its claim."""
    answer = current_app.make_response(result)
    session().execute(
        update(IdempotencyKey)
        .where(*_this(key))
        .values(
            status=answer.status_code,
            location=answer.headers.get("Location"),
            body=answer.get_data(as_text=True),
        )
    )
    return answer


def _insert_new() -> Any:
    """Return an insert that does nothing where the person used the key before."""
    dialect = session().get_bind().dialect.name
    insert = postgresql.insert if dialect == "postgresql" else sqlite.insert
    return insert(IdempotencyKey).on_conflict_do_nothing()


def _this(key: str) -> tuple[Any, Any]:
    return IdempotencyKey.person_id == g.person_id, IdempotencyKey.key == key


def _digest() -> str:
    """Return the SHA-256 of what the request asks for."""
    asked = f"{request.method} {request.full_path}\n".encode()
    return hashlib.sha256(asked + request.get_data()).hexdigest()
