"""Invitations: made by stewards, accepted by whoever holds the code."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import Response, g

from models.actions import acceptance, invitations, tokens
from models.domain import consent
from models.domain.roles import Action, Role
from service import people_answers
from service.access import actor, asker, certain, needs, open_to_everybody
from service.limits import Counted, address, limited
from service.people_schemas import NewInvitation, NewMember
from service.schemas import Paging
from service.views import (
    GroupView,
    Resources,
    SecretGroupView,
    SecretView,
    answered,
    created,
    listed,
)
from service.work import session

blueprint = Resources("invitations", "Codes that let people join; each is shown once.")


@blueprint.route("/groups/<hexid:group_id>/invitations")
class Invitations(SecretGroupView):
    """The invitations of a group."""

    @needs(Action.INVITE)
    @blueprint.arguments(Paging(), location="query")
    @blueprint.response(200, people_answers.Invitations)
    def get(self, paging: Mapping[str, Any], group_id: str) -> Response:
        """List the invitations, oldest first, without their codes."""
        found = invitations.list_invitations(
            session(), actor(), after=paging["cursor"], limit=paging["limit"]
        )
        return listed(found)

    @needs(Action.INVITE)
    @blueprint.arguments(NewInvitation())
    @blueprint.response(201, people_answers.NewInvitationAnswer)
    def post(self, given: Mapping[str, Any], group_id: str) -> Response:
        """Invite: the answer holds the code, which is shown this once and not kept.

        With `reporter` whoever accepts gets the place and the reports of somebody who reported
        through a steward. That, and inviting a designer or a steward, needs a token of every scope.
        The code is good for as long as whoever made it is a steward, and no longer than the token
        that asks. No Idempotency-Key is taken, for the answer would have to be kept.
        """
        terms = invitations.Terms(**{**given, "role": Role(given["role"])})
        no_later = tokens.end_of(certain(), asker())
        code, body = invitations.invite(session(), actor(), terms, no_later)
        return created(
            {**body, "code": code},
            "invitations.OneInvitation",
            group_id=group_id,
            invitation_id=body["id"],
        )


@blueprint.route("/groups/<hexid:group_id>/invitations/<hexid:invitation_id>")
class OneInvitation(GroupView):
    """One invitation."""

    @needs(Action.INVITE)
    @blueprint.response(200, people_answers.Invitation)
    def get(self, group_id: str, invitation_id: str) -> Response:
        """Read an invitation, without its code."""
        return answered(invitations.read_invitation(session(), actor(), invitation_id))

    @needs(Action.INVITE)
    @blueprint.response(204)
    def delete(self, group_id: str, invitation_id: str) -> None:
        """Revoke an invitation; doing it twice changes nothing."""
        invitations.revoke(session(), actor(), invitation_id)


@blueprint.route("/consent")
@open_to_everybody
@blueprint.response(200, people_answers.Consent)
def read_consent() -> dict[str, Any]:
    """Read what somebody agrees to on joining a group."""
    return {"version": consent.VERSION, "text": list(consent.TEXT)}


@blueprint.route("/invitations/<string:code>/acceptance")
class Acceptance(SecretView):
    """Joining a group."""

    @needs(Action.JOIN, known=False)
    @limited(Counted.JOINING, address)
    @blueprint.arguments(NewMember())
    @blueprint.response(201, people_answers.JoinedAnswer)
    def post(self, given: Mapping[str, Any], code: str) -> Response:
        """Accept an invitation and become a member of its group.

        Without a token you get a new one, shown this once; with a token you join as the person
        you are. A code that was used, revoked or has expired is answered like an unknown one.
        """
        joined = acceptance.accept(session(), g.get("asker"), code, **given)
        group, member = joined.group, joined.member
        body = {
            "id": group.id,
            "name": group.name,
            "role": member.role,
            "created_at": group.created_at,
            "member_id": member.id,
            "name_in_group": member.name,
            "token": joined.token,
        }
        return created(body, "groups.OneGroup", group_id=group.id)
