"""Learn: what a group knows, and the chances for a foot that its reader sets."""

from __future__ import annotations

from flask import redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from models.actions.answers import answered
from models.domain.roles import Action
from service.access import actor
from service.pages.answering import Shown
from service.pages.exploring import COOKIE, EXPLORED, entered, invented, sliders
from service.pages.frame import Pages
from service.pages.kept import KEPT_SECONDS, Kept, load
from service.pages.learned import learned
from service.pages.reading import read_question
from service.pages.visitors import only_members
from service.work import session

blueprint = Pages("learn", url_prefix="/groups/<hexid:group_id>/learn")


@blueprint.get("")
@only_members(Action.READ_GROUP)
def page() -> str:
    """Show what the group knows."""
    kept = _kept()
    asked, problems = read_question(kept)
    shown = None
    known = learned(session(), actor())
    if asked is not None:
        shown = Shown(answered(known.fitted, asked), kept.unit)
    return render_template(
        "pages/learn.html",
        learned=known,
        kept=kept,
        shown=shown,
        steps=EXPLORED,
        sliders=sliders(),
        unset=kept == invented(),
        wrong={problem.name: problem for problem in problems},
    )


@blueprint.post("/foot")
@only_members(Action.READ_GROUP)
def set_foot() -> Response:
    """Take the fields of the foot, and show its chances."""
    here = url_for("learn.page", group_id=actor().group_id)
    answer = redirect(f"{here}#chances")
    kept = entered(_kept(), request.form)
    answer.set_cookie(
        COOKIE,
        kept.dump(),
        max_age=KEPT_SECONDS,
        path=here,
        secure=request.is_secure,
        httponly=True,
        samesite="Lax",
    )
    return answer


def _kept() -> Kept:
    """Return the foot as it was set last in this browser, or an invented one."""
    kept = load(request.cookies.get(COOKIE, ""))
    return kept if kept.entries else invented()
