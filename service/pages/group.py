"""A group's own page: what can be done in it."""

from __future__ import annotations

from flask import render_template

from models.actions import members
from models.domain.roles import Action
from service.access import actor
from service.pages.frame import Pages
from service.pages.visitors import only_members
from service.work import session

blueprint = Pages("group", url_prefix="/groups/<hexid:group_id>")


@blueprint.get("")
@only_members(Action.READ_GROUP)
def overview() -> str:
    """Show what there is to do in a group, for the role of who looks."""
    counts = members.counts(session(), actor())
    may_invite = actor().may(Action.INVITE)
    return render_template("pages/group.html", counts=counts, actor=actor(), may_invite=may_invite)
