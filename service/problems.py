"""Every error as `application/problem+json`, made in one place.

References
----------
RFC 9457, Problem Details for HTTP APIs: members type, title, status, detail, and our extension
`errors`, which names each field by a JSON pointer (RFC 6901).

"""

from __future__ import annotations

import errno
import re
import time
from typing import Any

from flask import Flask, Response, current_app, g, request
from flask_smorest.exceptions import NotModified
from sqlalchemy.exc import DBAPIError, IntegrityError, OperationalError, StatementError
from sqlalchemy.exc import TimeoutError as PoolTimeout
from sqlalchemy.orm.exc import StaleDataError
from werkzeug.exceptions import (
    HTTPException,
    InternalServerError,
    MethodNotAllowed,
    NotFound,
    PreconditionFailed,
    PreconditionRequired,
    RequestEntityTooLarge,
)

from models.domain import errors
from models.tables.refusals import is_busy, is_full
from service.logs import where_it_broke

STATUSES: dict[type[errors.HeeldepthError], int] = {
    errors.Invalid: 422,
    errors.Unauthenticated: 401,
    errors.Forbidden: 403,
    errors.NotFound: 404,
    errors.Stale: 412,
    errors.KeyReused: 422,
    errors.Conflict: 409,
    errors.Closed: 403,
    errors.TooOften: 429,
    errors.Unavailable: 503,
}

LONGEST_VALUE = 100

FULL = frozenset({errno.ENOSPC, errno.EDQUOT})
"""What the system says where a disk, or somebody's share of it, is full."""

TITLES = {
    400: "The request cannot be read",
    401: "Say who is asking",
    403: "Not allowed",
    404: "Nothing here",
    405: "Not with this method",
    406: "Cannot answer in that form",
    409: "This contradicts what is stored",
    412: "It has changed since you read it",
    413: "Too long",
    415: "Cannot read that media type",
    422: "A value in the request is not possible",
    428: "Say which version you read",
    429: "Too many requests",
    500: "Something broke here",
    503: "Not just now",
    507: "No room left to store it",
}


DETAILS: dict[type[HTTPException], str] = {
    NotFound: "there is nothing at this address; groups and what they hold go by id",
    MethodNotAllowed: "this address does not take that method; the header Allow says which it does",
    PreconditionRequired: "send the ETag that you read as If-Match",
    PreconditionFailed: "it has changed since you read it; read it again",
}
"""Our words where the framework's would not help."""

FULL_AT = "heeldepth_full_at"
"""The extension that holds when a write last found no room."""

_TOO_LARGE = RequestEntityTooLarge.description


def problem(status: int, detail: str) -> Response:
    """Return a problem as a response; its type names the status."""
    return _response(_members(status, detail))


def _members(status: int, detail: str, kind: str = "") -> dict[str, Any]:
    title = TITLES.get(status, "The request failed")
    kind = f"urn:heeldepth:problem:{kind or status}"
    return {"type": kind, "title": title, "status": status, "detail": detail}


def _response(body: dict[str, Any]) -> Response:
    text = current_app.json.dumps(body)
    answer = Response(text, body["status"], mimetype="application/problem+json")
    if body["status"] == 401:
        answer.headers["WWW-Authenticate"] = 'Bearer realm="heeldepth"'
    return answer


def register(app: Flask) -> None:
    """Answer every error of an application as a problem."""
    app.register_error_handler(errors.HeeldepthError, _ours)
    app.register_error_handler(StaleDataError, _stale)
    app.register_error_handler(IntegrityError, _raced)
    app.register_error_handler(OperationalError, _database)
    app.register_error_handler(OSError, _file)
    app.register_error_handler(PoolTimeout, _no_connection)
    app.register_error_handler(StatementError, _refused)


def from_framework(error: HTTPException) -> Response:
    """Return the problem of an error that Flask or Werkzeug raised, with its headers."""
    if isinstance(error, NotModified):
        return _not_modified()
    status = error.code or 500
    detail = "" if isinstance(error, InternalServerError) else str(error.description or "")
    answer = problem(status, _of_ours(error) or detail or TITLES.get(status, ""))
    for name, value in error.get_headers():
        if name.lower() not in ("content-type", "www-authenticate"):
            answer.headers[name] = value
    return answer


def _of_ours(error: HTTPException) -> str:
    """Return our own words for an error of the framework, none where its own will do."""
    if isinstance(error, RequestEntityTooLarge) and error.description == _TOO_LARGE:
        most, sent = request.max_content_length or 0, request.content_length
        if sent is None or sent > most:
            return f"a body may have {most:,} bytes here; send less"
    return next((words for kind, words in DETAILS.items() if isinstance(error, kind)), "")


def _not_modified() -> Response:
    """Answer that the reader's copy is good, naming it again where there is no doubt which."""
    answer = Response(status=304)
    known = request.if_none_match.as_set()
    if len(known) == 1:
        answer.set_etag(known.pop())
    return answer


def told(error: errors.HeeldepthError) -> dict[str, Any]:
    """Return one of our errors as the members of a problem."""
    status = next(code for kind, code in STATUSES.items() if isinstance(error, kind))
    name = "Invalid" if isinstance(error, errors.Invalid) else type(error).__name__
    kind = re.sub("(?<=[a-z])(?=[A-Z])", "-", name).lower()
    body = _members(status, str(error), kind)
    if isinstance(error, errors.Invalid):
        body["errors"] = [fault_told(fault) for fault in error.faults]
    return body


def broken() -> dict[str, Any]:
    """Return the members of a problem that is nobody's fault but ours."""
    return _members(500, TITLES[500])


def no_room() -> dict[str, Any]:
    """Return the members of a problem of a disk that is full."""
    return _members(507, "there is no room to store it now; nothing was changed, try again later")


def found_no_room(error: Exception) -> bool:
    """Return whether something broke because a disk, or somebody's share of it, is full."""
    if isinstance(error, DBAPIError):
        return is_full(error)
    return isinstance(error, OSError) and error.errno in FULL


def fault_told(fault: errors.Fault) -> dict[str, Any]:
    """Return a fault with a pointer to its field, its value, and what would be right."""
    parts = (part.replace("~", "~0").replace("/", "~1") for part in fault.path)
    return {
        "pointer": "".join(f"/{part}" for part in parts),
        "value": _value(fault.value),
        "wanted": fault.wanted,
        "detail": str(fault),
    }


def _ours(error: errors.HeeldepthError) -> Response:
    answer = _response(told(error))
    if isinstance(error, errors.TooOften):
        answer.headers["Retry-After"] = str(error.seconds)
    return answer


def _value(value: object) -> int | float | str | None:
    """Return a value as JSON may carry it back: short, and nothing that holds others."""
    if value is None or (isinstance(value, (int, float)) and abs(value) < 2**53):
        return value
    return value[:LONGEST_VALUE] if isinstance(value, str) else errors.shown(value)


def _stale(_error: StaleDataError) -> Response:
    return problem(412, "somebody changed it at the same moment; read it again")


def _raced(error: IntegrityError) -> Response:
    current_app.logger.warning("integrity error: %s", type(error.orig).__name__)
    return problem(409, "it contradicts what is stored, perhaps since a moment ago; read it again")


def _database(error: OperationalError) -> Response:
    if found_no_room(error):
        current_app.logger.error("database: no room left")
        return _no_room()
    said = current_app.logger.warning if is_busy(error) else current_app.logger.error
    said("database: %s", type(error.orig).__name__)
    return _later()


def _file(error: OSError) -> Response:
    """Say where there was no room for what was sent; other files that fail are our fault."""
    if not found_no_room(error):
        raise error
    current_app.logger.error("files: no room left")
    return _no_room()


def _no_connection(_error: PoolTimeout) -> Response:
    current_app.logger.error("database: no connection became free")
    return _later()


def _refused(error: StatementError) -> Response:
    """Log where a statement failed, not its values: they may be somebody's notes."""
    where, name = where_it_broke(error), type(error.orig).__name__
    current_app.logger.error("database: %s\n%s%s", name, where, error.statement)
    return problem(500, TITLES[500])


def _no_room() -> Response:
    current_app.extensions[FULL_AT] = time.monotonic()
    return _response(no_room())


def _later() -> Response:
    """Say that it may be tried again; a connection that breaks at the end tells not how it went."""
    unknown = "whether it was stored is not known: look, or send it again with its Idempotency-Key"
    what = unknown if g.get("committing") else "nothing was changed, try again"
    return problem(503, f"the database cannot answer now; {what}")
