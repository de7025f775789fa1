"""What all pages share: headers, words for templates, and errors as pages."""

from __future__ import annotations

from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any

from flask import Blueprint, Response, render_template, request, url_for
from werkzeug.exceptions import HTTPException

from models.domain.foot import SURVEY_COUNTS
from models.domain.yarn import YARN_WEIGHTS
from service.drawings.chances import bars, dots
from service.drawings.heel import heel_in_profile
from service.pages import told, words
from service.problems import TITLES

POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; "
    "form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
)
"""Nothing inline and nothing from elsewhere."""

_STATIC = Path(__file__).parents[1] / "static"
_LONG = "public, max-age=31536000, immutable"


class Pages(Blueprint):
    """A blueprint of pages, with the headers, words and errors that all pages share."""

    def __init__(self, name: str, **options: Any) -> None:
        super().__init__(name, __name__, template_folder="../templates", **options)
        self.after_request(_headed)
        self.register_error_handler(HTTPException, _failed)
        self.context_processor(_words)


def _headed(answer: Response) -> Response:
    """Say what a page may load, and that only its reader's own browser may keep it."""
    answer.headers.setdefault("Content-Security-Policy", POLICY)
    answer.headers.setdefault("Referrer-Policy", "same-origin")
    answer.headers.setdefault("X-Content-Type-Options", "nosniff")
    versioned = request.endpoint == "pages.static" and "v" in request.args
    answer.headers["Cache-Control"] = _LONG if versioned else "private, no-cache"
    return answer


def _failed(error: HTTPException) -> tuple[str, int]:
    """Show an error as a page."""
    code = error.code or 500
    title = TITLES.get(code, "The request failed")
    return render_template("pages/failed.html", title=title), code


@cache
def _version(name: str) -> str:
    return sha256((_STATIC / name).read_bytes()).hexdigest()[:12]


def asset(name: str) -> str:
    """Return the address of a static file; it changes with its content."""
    return url_for("pages.static", filename=name, v=_version(name))


def _words() -> dict[str, Any]:
    return {
        "asset": asset,
        "bars": bars,
        "dots": dots,
        "heel_in_profile": heel_in_profile,
        "told": told,
        "words": words,
        "surveyed": sum(SURVEY_COUNTS.values()),
        "yarn_weights": YARN_WEIGHTS,
    }
