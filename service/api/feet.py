"""Feet: dated, immutable measurements."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import Response, request

from models.actions import feet
from models.domain.roles import Action
from service import answers
from service.access import actor, needs
from service.idempotency import DOCUMENTED, forget
from service.schemas import NewFoot, Paging
from service.views import GroupView, Resources, answered, created, listed
from service.work import session

blueprint = Resources("feet", "Feet as measured on a day; measure again rather than change.")


@blueprint.route("/groups/<hexid:group_id>/feet")
class Feet(GroupView):
    """The feet of a group."""

    @needs(Action.READ_OWN)
    @blueprint.arguments(Paging(), location="query")
    @blueprint.response(200, answers.Feet)
    def get(self, paging: Mapping[str, Any], group_id: str) -> Response:
        """List your feet, oldest first.

        Stewards also see those of reporters who have not joined.
        """
        found = feet.list_feet(session(), actor(), after=paging["cursor"], limit=paging["limit"])
        return listed(found)

    @needs(Action.RECORD)
    @blueprint.arguments(NewFoot())
    @blueprint.response(201, answers.Foot)
    @blueprint.doc(parameters=[DOCUMENTED])
    def post(self, given: Mapping[str, Any], group_id: str) -> Response:
        """Record a foot."""
        foot_id, _ = feet.record_foot(session(), actor(), given)
        body = feet.read_foot(session(), actor(), foot_id)
        return created(body, "feet.OneFoot", group_id=group_id, foot_id=foot_id)


@blueprint.route("/groups/<hexid:group_id>/feet/<hexid:foot_id>")
class OneFoot(GroupView):
    """One foot."""

    @needs(Action.READ_OWN)
    @blueprint.response(200, answers.Foot)
    def get(self, group_id: str, foot_id: str) -> Response:
        """Read a foot."""
        return answered(feet.read_foot(session(), actor(), foot_id))

    @needs(Action.RECORD)
    @blueprint.response(204)
    def delete(self, group_id: str, foot_id: str) -> None:
        """Delete a foot that no report is about."""
        feet.delete_foot(session(), actor(), foot_id)
        forget(request.path)
