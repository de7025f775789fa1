"""Groups: founding one, and listing one's own."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import Response, g

from models.actions import groups, tokens
from models.domain.errors import Closed
from models.domain.roles import Action, Role
from models.tables.people import Group
from service import answers, founding
from service.access import actor, needs
from service.idempotency import DOCUMENTED
from service.limits import Counted, address, count, limited
from service.schemas import NewGroup
from service.views import GroupView, PersonView, Resources, answered, created
from service.work import session

blueprint = Resources("groups", "Knitting groups, each with its own pool of reports.")


@blueprint.route("/groups")
class Groups(PersonView):
    """The groups of a person."""

    @needs(Action.LIST_GROUPS)
    @blueprint.response(200, answers.Groups)
    def get(self) -> Response:
        """List your groups, with your role in each."""
        mine = groups.groups_of(session(), g.person_id)
        return answered({"items": [_shown(group, role) for group, role in mine]})

    @needs(Action.FOUND, known=False)
    @limited(Counted.JOINING, address)
    @blueprint.arguments(NewGroup())
    @blueprint.response(201, answers.NewGroupAnswer)
    @blueprint.doc(parameters=[DOCUMENTED])
    def post(self, given: Mapping[str, Any]) -> Response:
        """Found a group and become its steward.

        Without a token you get a new one, shown this once. With a token the group is added to
        yours.
        """
        if not founding.is_open():
            raise Closed("groups are made at the command line here: heeldepth group create NAME")
        known = g.get("person_id")
        if known:
            count(Counted.FOUNDING, known)
        names, agreed = (given["name"], given["steward"]), given["consent_version"]
        group, founder = groups.create_group(session(), *names, known, consent_version=agreed)
        token = None if known else tokens.issue(session(), founder, f"steward of {group.name}"[:80])
        body = {**_shown(group, Role.STEWARD.value), "token": token}
        return created(body, "groups.OneGroup", group_id=group.id)


@blueprint.route("/groups/<hexid:group_id>")
class OneGroup(GroupView):
    """One group."""

    @needs(Action.READ_GROUP)
    @blueprint.response(200, answers.Group)
    def get(self, group_id: str) -> Response:
        """Read a group that you are a member of."""
        return answered(_shown(groups.read_group(session(), actor()), actor().role))


def _shown(group: Group, role: str) -> dict[str, Any]:
    return {"id": group.id, "name": group.name, "role": role, "created_at": group.created_at}
