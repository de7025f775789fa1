"""A steward's pages: the members of the group, and invitations to it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from flask import redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from models.actions import invitations, members, resets
from models.actions.invitations import Terms
from models.domain.joining import DAYS, USES
from models.domain.roles import Action, Role
from service.access import actor, asker, certain
from service.pages.forms import Field, Form, attempt, loaded
from service.pages.frame import Pages
from service.pages.listing import newest_first
from service.pages.numbers import read_numbers
from service.pages.visitors import only_members
from service.people_schemas import MemberChange, NewInvitation
from service.work import session

blueprint = Pages("member_pages", url_prefix="/groups/<hexid:group_id>/members")

AT_ONCE = 40
"""Members on a page."""

MOST = 60
"""Invitations that are listed, the newest."""

CHANGING = Form("A member", "Change the role", (Field("role", "Role"),))
INVITING = Form(
    "Invite",
    "Make the code",
    (
        Field("role", "Role"),
        Field("uses", "For how many people", USES.text),
        Field("days", "For how many days", DAYS.text),
        Field(
            "reporter",
            "In the place of",
            "The name under which you recorded somebody's socks; or leave it empty.",
        ),
    ),
)


@blueprint.get("")
@only_members(Action.KEEP_MEMBERS)
def page() -> str:
    """List the members."""
    return _members()


@blueprint.post("/<hexid:member_id>/role")
@only_members(Action.APPOINT)
def change_role(member_id: str) -> ResponseReturnValue:
    """Give a member another role."""
    with attempt(CHANGING) as tried:
        member = members.member_to_change(certain(), actor(), member_id)
        role = loaded(CHANGING.given(), MemberChange())["role"]
        members.change_role(session(), actor(), member, Role(role))
        return _to("page", "role")
    return _members(problems=tried.problems), 409


@blueprint.post("/<hexid:member_id>/removal")
@only_members(Action.KEEP_MEMBERS)
def remove(member_id: str) -> ResponseReturnValue:
    """End somebody's membership."""
    with attempt(CHANGING) as tried:
        members.remove(session(), members.member_to_change(session(), actor(), member_id))
        return _to("page", "removed")
    return _members(problems=tried.problems), 409


@blueprint.post("/<hexid:member_id>/reset")
@only_members(Action.RESET_PASSWORDS)
def reset(member_id: str) -> ResponseReturnValue:
    """Show a one-time code for a new password; it cannot be read again."""
    with attempt(CHANGING) as tried:
        code, expires_at = resets.issue_for_member(certain(), asker(), actor(), member_id)
        member = members.read_member(session(), actor(), member_id)
        return _members(code=code, whose=member["name"], expires_at=expires_at)
    return _members(problems=tried.problems), 409


@blueprint.get("/invitations")
@only_members(Action.INVITE)
def invited() -> str:
    """List the invitations."""
    return _invitations()


@blueprint.post("/invitations")
@only_members(Action.INVITE)
def invite() -> ResponseReturnValue:
    """Make an invitation and show its code; it cannot be read again."""
    with attempt(INVITING) as tried:
        code, made = invitations.invite(certain(), actor(), _terms(request.form))
        return _invitations(code=code, made=made)
    return _invitations(problems=tried.problems), 422


@blueprint.post("/invitations/<hexid:invitation_id>/revocation")
@only_members(Action.INVITE)
def revoke(invitation_id: str) -> ResponseReturnValue:
    """Revoke an invitation."""
    invitations.revoke(session(), actor(), invitation_id)
    return _to("invited", "revoked")


def _terms(form: Mapping[str, str]) -> Terms:
    texts = {name: form[name] for name in ("role", "reporter") if form.get(name, "").strip()}
    given = loaded({**texts, **read_numbers(form, (USES, DAYS))}, NewInvitation())
    return Terms(Role(given["role"]), given["uses"], given["days"], given["reporter"])


def _members(**more: Any) -> str:
    asked = request.args.get("after", "")
    after = asked if re.fullmatch("[0-9a-f]{32}", asked) else None
    found = members.list_members(session(), actor(), after=after, limit=AT_ONCE)
    return render_template(
        "pages/members.html", found=found, roles=Role, me=actor().member_id, after=after, **more
    )


def _invitations(**more: Any) -> str:
    rows = newest_first(
        lambda after, limit: invitations.list_invitations(
            session(), actor(), after=after, limit=limit
        )
    )
    return INVITING.shown(
        "pages/invitations.html",
        invitations=rows[:MOST],
        older=len(rows) - MOST,
        roles=Role,
        **more,
    )


def _to(endpoint: str, done: str) -> ResponseReturnValue:
    return redirect(url_for(f".{endpoint}", group_id=actor().group_id, done=done), 303)
