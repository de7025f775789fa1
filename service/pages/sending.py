"""What forms of all pages share: doing what they ask for once, and the unit of their sender."""

from __future__ import annotations

from flask import request, url_for
from werkzeug.wrappers import Response

from service.idempotency import once_by
from service.pages.kept import COOKIE, KEPT_SECONDS, UNIT_COOKIE

KEY_FIELD = "key"
"""The hidden field that is another in every form that was opened."""

once_by_form = once_by(lambda: request.form.get(KEY_FIELD) or None)
"""Do what a form asks for once, however often its button was pressed."""


def forget_typed(answer: Response) -> Response:
    """Let the browser drop what was typed on the pages of Ask."""
    answer.delete_cookie(COOKIE, path=url_for("ask.begin"))
    return answer


def remember_unit(answer: Response, unit: str) -> Response:
    """Let the browser keep the unit that its reader measures in, for all pages."""
    answer.set_cookie(
        UNIT_COOKIE,
        unit,
        max_age=KEPT_SECONDS,
        secure=request.is_secure,
        httponly=True,
        samesite="Lax",
    )
    return answer
