"""Members of a group: who is one, in which role, and leaving."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import Response

from models.actions import members
from models.domain.roles import Action, Role
from service import people_answers
from service.access import actor, certain, needs
from service.people_schemas import MemberChange
from service.schemas import Paging
from service.views import GroupView, Resources, answered, listed
from service.work import session

blueprint = Resources("members", "Who is in a group, and in which role.")


@blueprint.route("/groups/<hexid:group_id>/members")
class Members(GroupView):
    """The members of a group."""

    @needs(Action.READ_GROUP)
    @blueprint.arguments(Paging(), location="query")
    @blueprint.response(200, people_answers.Members)
    def get(self, paging: Mapping[str, Any], group_id: str) -> Response:
        """List the members: stewards see all, others their own place, and everybody the counts."""
        found = members.list_members(
            session(), actor(), after=paging["cursor"], limit=paging["limit"]
        )
        return listed(found, beside={"counts": members.counts(session(), actor())})


@blueprint.route("/groups/<hexid:group_id>/members/me")
class OwnPlace(GroupView):
    """One's own place in a group."""

    @needs(Action.LEAVE)
    @blueprint.response(204)
    def delete(self, group_id: str) -> None:
        """Leave the group; what you reported stays in its pool until it is erased.

        To erase it, now or later: DELETE /v1/me/places/ID, or DELETE /v1/me. The last steward
        cannot leave before somebody else is one.
        """
        members.leave(session(), actor())


@blueprint.route("/groups/<hexid:group_id>/members/<hexid:member_id>")
@blueprint.etag
class OneMember(GroupView):
    """One member."""

    @needs(Action.READ_GROUP)
    @blueprint.response(200, people_answers.Member)
    def get(self, group_id: str, member_id: str) -> Response:
        """Read a member: yourself, or as a steward anybody; its ETag is needed to change it."""
        body = members.read_member(session(), actor(), member_id)
        blueprint.set_etag({"id": body["id"], "version": body["version"]})
        return answered(body)

    @needs(Action.APPOINT)
    @blueprint.arguments(MemberChange())
    @blueprint.response(200, people_answers.Member)
    def patch(self, given: Mapping[str, Any], group_id: str, member_id: str) -> Response:
        """Give a member another role; the last steward stays one."""
        member = members.member_to_change(certain(), actor(), member_id)
        blueprint.check_etag({"id": member.id, "version": member.version})
        members.change_role(session(), actor(), member, Role(given["role"]))
        blueprint.set_etag({"id": member.id, "version": member.version})
        return answered(members.read_member(session(), actor(), member_id))

    @needs(Action.KEEP_MEMBERS)
    @blueprint.response(204)
    def delete(self, group_id: str, member_id: str) -> None:
        """Remove a member, who has no access from then on; reports stay until they are erased."""
        member = members.member_to_change(session(), actor(), member_id)
        blueprint.check_etag({"id": member.id, "version": member.version})
        members.remove(session(), member)
