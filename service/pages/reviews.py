"""Held reports: why each is doubted, what it says, and what a steward decides."""

from __future__ import annotations

from typing import Any

from flask import redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from models.actions import reviews
from models.domain.foot import MEASUREMENT_NAMES
from models.domain.quantities import FIT_SCORES
from models.domain.reviews import Status
from models.domain.roles import Action
from service.access import actor
from service.pages.forms import Field, Form, attempt, loaded
from service.pages.frame import Pages
from service.pages.visitors import only_members
from service.schemas import NewReview
from service.work import session

blueprint = Pages("review_pages", url_prefix="/groups/<hexid:group_id>/reviews")

MOST = 20
"""Held reports on the page, the oldest; whoever decides these sees the next."""

DECIDING = Form("Decide", "Decide", (Field("status", "Decision"), Field("text", "Why")))


@blueprint.get("")
@only_members(Action.REVIEW)
def page() -> str:
    """Show the queue, oldest first."""
    return _queue()


@blueprint.post("/<hexid:report_id>")
@only_members(Action.REVIEW)
def decide(report_id: str) -> ResponseReturnValue:
    """Let a held report count, or not."""
    with attempt(DECIDING) as tried:
        given = loaded(DECIDING.given(), NewReview())
        status = Status(given["status"])
        reviews.review(session(), actor(), report_id, status, text=given.get("text"))
        return redirect(url_for(".page", group_id=actor().group_id, done=status), 303)
    return _queue(problems=tried.problems), 409


def _queue(**more: Any) -> str:
    found = reviews.list_held(session(), actor(), after=None, limit=MOST)
    return render_template(
        "pages/reviews.html",
        held=[row._mapping for row in found.rows],
        correctable=reviews.correctable(session(), actor(), [row.id for row in found.rows]),
        foot_names=MEASUREMENT_NAMES,
        fit_scores=FIT_SCORES,
        **more,
    )
