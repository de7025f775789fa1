"""What somebody has asked a group: the suggestions, each as it was given."""

from __future__ import annotations

from flask import render_template, request

from models.actions import suggestions
from models.domain.roles import Action
from service.access import actor
from service.pages.answering import Shown
from service.pages.frame import Pages
from service.pages.kept import is_id, unit_of
from service.pages.visitors import only_members
from service.work import session

blueprint = Pages("asked", url_prefix="/groups/<hexid:group_id>/suggestions")

AT_ONCE = 20


@blueprint.get("")
@only_members(Action.READ_OWN)
def own_suggestions() -> str:
    """List one's own suggestions, the newest first."""
    after = request.args.get("after")
    found = suggestions.list_suggestions(
        session(),
        actor(),
        after=after if is_id(after) else None,
        limit=AT_ONCE,
        newest_first=True,
    )
    unit = unit_of(request.cookies)
    return render_template("pages/suggestions.html", found=found, unit=unit)


@blueprint.get("/<hexid:suggestion_id>")
@only_members(Action.READ_OWN)
def suggestion(suggestion_id: str) -> str:
    """Show a suggestion as it was given."""
    answer = suggestions.read_suggestion(session(), actor(), suggestion_id)
    shown = Shown(answer, unit_of(request.cookies), in_group=True)
    return render_template("pages/answer.html", shown=shown, invented=None)
