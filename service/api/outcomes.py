"""Outcomes: what a calibration stated, against what came."""

from __future__ import annotations

from flask import Response

from models.actions import tracking
from models.domain.roles import Action
from service import outcome_answers as answers
from service.access import actor, needs
from service.views import GroupView, Resources, answered
from service.work import session

blueprint = Resources("outcomes", "Whether what was stated came true.")


@blueprint.route("/groups/<hexid:group_id>/calibrations/<hexid:calibration_id>/outcomes")
class Outcomes(GroupView):
    """What came of one calibration."""

    @needs(Action.READ_GROUP)
    @blueprint.response(200, answers.Outcomes)
    def get(self, group_id: str, calibration_id: str) -> Response:
        """Read stated against achieved chances of the reports that came after a calibration."""
        return answered(tracking.outcomes(session(), actor(), calibration_id))
