"""Reviews: held reports, what stewards decide of them, and the record of it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import Response

from models.actions import reviews
from models.domain.reviews import Status
from models.domain.roles import Action
from service import review_answers as answers
from service.access import actor, needs
from service.idempotency import DOCUMENTED
from service.schemas import NewReview, Paging
from service.views import GroupView, Resources, created, listed
from service.work import session

blueprint = Resources("reviews", "Doubtful reports, held until a steward has looked at them.")


@blueprint.route("/groups/<hexid:group_id>/reviews")
class Queue(GroupView):
    """The reports that wait for a steward."""

    @needs(Action.REVIEW)
    @blueprint.arguments(Paging(), location="query")
    @blueprint.response(200, answers.HeldReports)
    def get(self, paging: Mapping[str, Any], group_id: str) -> Response:
        """List the held reports of all with their reasons and feet, oldest first.

        What was held by hand of a member who has joined is listed without its content.
        """
        found = reviews.list_held(session(), actor(), after=paging["cursor"], limit=paging["limit"])
        return listed(found)


@blueprint.route("/groups/<hexid:group_id>/reports/<hexid:report_id>/reviews")
class Reviews(GroupView):
    """What became of one report."""

    @needs(Action.READ_OWN)
    @blueprint.arguments(Paging(), location="query")
    @blueprint.response(200, answers.Reviews)
    def get(self, paging: Mapping[str, Any], group_id: str, report_id: str) -> Response:
        """List every step of a report of yours, oldest first; stewards see those of all.

        What the report says is not shown here.
        """
        found = reviews.list_reviews(
            session(), actor(), report_id, after=paging["cursor"], limit=paging["limit"]
        )
        return listed(found)

    @needs(Action.REVIEW)
    @blueprint.arguments(NewReview())
    @blueprint.response(201, answers.Review)
    @blueprint.doc(parameters=[DOCUMENTED])
    def post(self, given: Mapping[str, Any], group_id: str, report_id: str) -> Response:
        """Let a report count or not; the reporter can read who decided, and why."""
        status, since = Status(given["status"]), Status(given["from"])
        body = reviews.review(
            session(), actor(), report_id, status, since=since, text=given.get("text")
        )
        return created(body, "reviews.Reviews", group_id=group_id, report_id=report_id)
