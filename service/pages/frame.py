"""What all pages share: headers, words for templates, and where forms may come from."""

from __future__ import annotations

from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from flask import Blueprint, Response, g, request, url_for

from models.domain.errors import Forbidden
from models.domain.foot import SURVEY_COUNTS
from models.domain.quantities import FIT_SCORES
from models.domain.reports import SYMPTOMS
from models.domain.wording import at_least, counted
from models.domain.yarn import YARN_WEIGHTS
from service.drawings.chances import bars, dots
from service.drawings.fits import fit_drawing
from service.drawings.heel import heel_in_profile
from service.drawings.shares import shares
from service.pages import told, words
from service.pages.navigation import here
from service.sessions import csrf_token, session_id
from service.work import READING

POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; "
    "form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
)
"""Nothing inline and nothing from elsewhere."""

_STATIC = Path(__file__).parents[1] / "static"
_LONG = "public, max-age=31536000, immutable"


class Pages(Blueprint):
    """A blueprint of pages, with the headers and words that all pages share."""

    def __init__(self, name: str, **options: Any) -> None:
        super().__init__(name, __name__, template_folder="../templates", **options)
        self.before_request(_require_our_site)
        self.after_request(headed)
        self.app_context_processor(_words)


def _require_our_site() -> None:
    """Refuse a form that a page of somebody else sent, also where nobody is logged in.

    References
    ----------
    Fetch Metadata Request Headers (W3C); RFC 6454, the header Origin, for browsers without them.

    """
    if request.method in READING:
        return
    site, origin = request.headers.get("Sec-Fetch-Site"), request.headers.get("Origin")
    if site is None and origin is not None:
        site = "same-origin" if urlsplit(origin).netloc == request.host else "cross-site"
    if site not in (None, "same-origin", "none"):
        raise Forbidden("this form was sent from a page that is not ours")


def headed(answer: Response) -> Response:
    """Say what a page may load, and that only its reader's own browser may keep it.

    What somebody sees who is logged in is kept nowhere: the next at that browser may be another.
    """
    answer.headers.setdefault("Content-Security-Policy", POLICY)
    answer.headers.setdefault("Referrer-Policy", "same-origin")
    answer.headers.setdefault("X-Content-Type-Options", "nosniff")
    versioned = request.endpoint == "pages.static" and "v" in request.args
    own = "no-store" if "asker" in g else "private, no-cache"
    answer.headers["Cache-Control"] = _LONG if versioned else own
    return answer


@cache
def _version(name: str) -> str:
    return sha256((_STATIC / name).read_bytes()).hexdigest()[:12]


def asset(name: str) -> str:
    """Return the address of a static file; it changes with its content."""
    return url_for("pages.static", filename=name, v=_version(name))


def _words() -> dict[str, Any]:
    shown = session_id()
    return {
        "asset": asset,
        "bars": bars,
        "counted": counted,
        "at_least": at_least,
        "csrf_token": shown and csrf_token(shown),
        "dots": dots,
        "fit_drawing": fit_drawing,
        "fit_scores": FIT_SCORES,
        "group": here(),
        "heel_in_profile": heel_in_profile,
        "shares": shares,
        "logged_in": shown is not None,
        "told": told,
        "words": words,
        "symptoms": SYMPTOMS,
        "surveyed": sum(SURVEY_COUNTS.values()),
        "yarn_weights": YARN_WEIGHTS,
    }
