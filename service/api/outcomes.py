"""Outcomes: what a calibration stated, against what came."""

from __future__ import annotations

from flask import Response

from models.domain.roles import Action
from service import outcome_answers as answers
from service.access import actor, needs
from service.answers import Pending
from service.results import result_text
from service.views import GroupView, Resources, ready

blueprint = Resources("outcomes", "Whether what was stated came true.")


@blueprint.route("/groups/<hexid:group_id>/calibrations/<hexid:calibration_id>/outcomes")
class Outcomes(GroupView):
    """What came of one calibration."""

    @needs(Action.READ_GROUP)
    @blueprint.response(200, answers.Outcomes)
    @blueprint.alt_response(202, schema=Pending, success=True)
    def get(self, group_id: str, calibration_id: str) -> Response:
        """Read stated against achieved chances of the reports that came after a calibration.

        Where working them out takes longer than a few seconds the answer is 202: ask again.
        """
        return ready(result_text(actor(), "outcomes", calibration_id=calibration_id))
