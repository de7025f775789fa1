"""Every error as `application/problem+json`, made in one place.

References
----------
RFC 9457, Problem Details for HTTP APIs: members type, title, status, detail, and our extension
`errors`, which names each field by a JSON pointer (RFC 6901).

"""

from __future__ import annotations

from typing import Any

from flask import Flask, Response, current_app
from sqlalchemy.exc import IntegrityError, OperationalError
from sqlalchemy.orm.exc import StaleDataError
from werkzeug.exceptions import HTTPException, InternalServerError

from models.domain import errors

STATUSES: dict[type[errors.HeeldepthError], int] = {
    errors.Invalid: 422,
    errors.Unauthenticated: 401,
    errors.Forbidden: 403,
    errors.NotFound: 404,
    errors.Stale: 412,
    errors.KeyReused: 422,
    errors.Conflict: 409,
    errors.Closed: 403,
    errors.Unavailable: 503,
}

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
    422: "Something in the request cannot be",
    428: "Say which version you read",
    429: "Too many requests",
    500: "Something broke here",
    503: "Not just now",
}


def problem(status: int, detail: str, **extensions: Any) -> Response:
    """Return a problem as a response; its type names the status in our own words."""
    title = TITLES.get(status, "The request failed")
    kind = "urn:heeldepth:problem:" + title.lower().replace(" ", "-")
    body = {"type": kind, "title": title, "status": status, "detail": detail, **extensions}
    answer = Response(current_app.json.dumps(body), status, mimetype="application/problem+json")
    if status == 401:
        answer.headers["WWW-Authenticate"] = 'Bearer realm="heeldepth"'
    return answer


def register(app: Flask) -> None:
    """Answer every error of an application as a problem."""
    app.register_error_handler(errors.HeeldepthError, _ours)
    app.register_error_handler(StaleDataError, _stale)
    app.register_error_handler(IntegrityError, _raced)
    app.register_error_handler(OperationalError, _database)


def from_framework(error: HTTPException) -> Response:
    """Return the problem of an error that Flask or Werkzeug raised, with its headers."""
    status = error.code or 500
    detail = "" if isinstance(error, InternalServerError) else str(error.description or "")
    answer = problem(status, detail or TITLES.get(status, "The request failed"))
    for name, value in error.get_headers():
        if name.lower() not in ("content-type", "www-authenticate"):
            answer.headers[name] = value
    return answer


def _ours(error: errors.HeeldepthError) -> Response:
    status = next(code for kind, code in STATUSES.items() if isinstance(error, kind))
    if isinstance(error, errors.Invalid):
        return problem(status, str(error), errors=[_fault(fault) for fault in error.faults])
    return problem(status, str(error))


def _fault(fault: errors.Fault) -> dict[str, Any]:
    pointer = "/" + "/".join(
        part.replace("~", "~0").replace("/", "~1") for part in fault.field.split(".")
    )
    value = fault.value if isinstance(fault.value, (int, float, bool)) else _text(fault.value)
    return {"pointer": pointer, "value": value, "wanted": fault.wanted, "detail": str(fault)}


def _text(value: object) -> str | None:
    return None if value is None else errors.shown(value)


def _stale(_error: StaleDataError) -> Response:
    return problem(412, "somebody changed it at the same moment; read it again")


def _raced(error: IntegrityError) -> Response:
    current_app.logger.warning("integrity error: %s", type(error.orig).__name__)
    return problem(409, "it contradicts what is stored, perhaps since a moment ago; read it again")


def _database(error: OperationalError) -> Response:
    current_app.logger.error("database: %s", type(error.orig).__name__)
    answer = problem(503, "the database cannot answer now; nothing was changed, try again")
    answer.headers["Retry-After"] = "1"
    return answer
