"""Headers that every answer carries.

References
----------
Content Security Policy Level 3 (W3C); RFC 6797, Strict-Transport-Security; RFC 9111, Cache-Control.

"""

from __future__ import annotations

from flask import Flask, Response, request

POLICY = (
    "default-src 'none'; style-src 'self'; img-src 'self'; form-action 'self'; "
    "base-uri 'none'; frame-ancestors 'none'"
)
"""Nothing from elsewhere, no script at all, no style in the text of a page, no frame around it.
Pages for people state a policy of their own, which allows our own script."""

ALWAYS = (
    ("Content-Security-Policy", POLICY),
    ("X-Content-Type-Options", "nosniff"),
    ("Referrer-Policy", "no-referrer"),
)
UNAVAILABLE, RETRY_AFTER_S = 503, "1"
"""What cannot be answered now is asked again after so many seconds (RFC 9110, 10.2.3)."""

A_YEAR = "max-age=31536000"


def register(app: Flask) -> None:
    """Put the headers on every answer of an application."""
    app.after_request(_guarded)


def _guarded(answer: Response) -> Response:
    for name, value in ALWAYS:
        answer.headers.setdefault(name, value)
    if request.path.startswith("/v1/"):
        answer.headers["Cache-Control"] = "no-store"
    if answer.status_code == UNAVAILABLE:
        answer.headers.setdefault("Retry-After", RETRY_AFTER_S)
    if request.is_secure:
        answer.headers["Strict-Transport-Security"] = A_YEAR
    return answer
