"""Errors as pages: what the API answers as a problem, a browser gets in the words of a page."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import Flask, Response, current_app, render_template, request

from service.pages.frame import Pages, headed
from service.pages.words import spoken

PROBLEM = "application/problem+json"

WORDS = {
    404: "There is nothing at this address, or nothing that is yours to see.",
    405: "Go to the page again by its link.",
    413: "Shorten it, and send it again.",
    500: "That is our mistake, and nothing was changed.",
}
"""What a page says instead of the problem's own detail, which is for programs."""

SENT_BEFORE = "urn:heeldepth:problem:key-reused"


def register(app: Flask) -> None:
    """Show problems as pages to whoever asked for a page."""
    app.after_request(_as_page)


def _as_page(answer: Response) -> Response:
    """Put a page in the place of a problem; status and headers stay."""
    if answer.mimetype == PROBLEM and _page_wanted():
        problem = answer.get_json()
        text = words_for(problem)
        answer.set_data(render_template("pages/failed.html", title=problem["title"], text=text))
        answer.mimetype = "text/html"
        headed(answer)
    return answer


def words_for(problem: Mapping[str, Any]) -> str:
    """Return what a page says of a problem."""
    if problem["type"] == SENT_BEFORE:
        return (
            "This form was sent before, and is recorded as it was then. Look at what is recorded, "
            "and correct it there."
        )
    return WORDS.get(problem["status"]) or f"{spoken(problem['detail'])}."


def _page_wanted() -> bool:
    """Return whether a page was asked for: by its address, or else by what the browser prefers."""
    if request.blueprint is not None:
        return isinstance(current_app.blueprints[request.blueprint], Pages)
    offered = (PROBLEM, "application/json", "text/html")
    preferred = request.accept_mimetypes.best_match(offered, default=PROBLEM)
    return preferred == "text/html" and not request.path.startswith("/v1/")
