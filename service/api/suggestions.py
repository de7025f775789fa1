"""Suggestions: how many slow-decrease rounds for a foot."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import Response

from models.actions import suggestions
from models.domain.roles import Action
from service import suggestion_answers as answers
from service.access import actor, needs
from service.idempotency import DOCUMENTED
from service.schemas import NewSuggestion, Paging
from service.suggesting import suggested
from service.views import GroupView, Resources, answered, created, listed
from service.work import session

blueprint = Resources("suggestions", "Answers for a foot, from the active calibration.")


@blueprint.route("/groups/<hexid:group_id>/suggestions")
class Suggestions(GroupView):
    """Asking, and what was answered before."""

    @needs(Action.READ_OWN)
    @blueprint.arguments(Paging(), location="query")
    @blueprint.response(200, answers.Suggestions)
    def get(self, paging: Mapping[str, Any], group_id: str) -> Response:
        """List your suggestions, oldest first, each with what it says to knit."""
        found = suggestions.list_suggestions(
            session(), actor(), after=paging["cursor"], limit=paging["limit"]
        )
        return listed(found)

    @needs(Action.ASK)
    @blueprint.arguments(NewSuggestion())
    @blueprint.response(201, answers.Suggestion)
    @blueprint.doc(parameters=[DOCUMENTED])
    def post(self, given: Mapping[str, Any], group_id: str) -> Response:
        """Ask how many slow-decrease rounds to work.

        The answer's `schedule` can be sent to POST /v1/schedules as it is for every round and
        written instructions. With `personal` there is an answer from your own reports beside it.
        """
        body = suggested(actor(), given)
        return created(
            body, "suggestions.OneSuggestion", group_id=group_id, suggestion_id=body["id"]
        )


@blueprint.route("/groups/<hexid:group_id>/suggestions/<hexid:suggestion_id>")
class OneSuggestion(GroupView):
    """One suggestion."""

    @needs(Action.READ_OWN)
    @blueprint.response(200, answers.Suggestion)
    def get(self, group_id: str, suggestion_id: str) -> Response:
        """Read a suggestion as it was given."""
        return answered(suggestions.read_suggestion(session(), actor(), suggestion_id))
