"""Calibrations: fitted models of a group, one of which answers."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import Response

from models.actions import calibrations
from service import answers
from service.idempotency import DOCUMENTED
from service.schemas import NewActivation, NewCalibration, Paging
from service.screening import hold_doubtful
from service.views import GroupView, Resources, actor, answered, created, listed
from service.work import database, session

blueprint = Resources("calibrations", "Models fitted to a group's reports.")


@blueprint.route("/groups/<hexid:group_id>/calibrations")
class Calibrations(GroupView):
    """The calibrations of a group."""

    @blueprint.arguments(Paging(), location="query")
    @blueprint.response(200, answers.Calibrations)
    def get(self, paging: Mapping[str, Any], group_id: str) -> Response:
        """List the calibrations, oldest first."""
        found, active = calibrations.list_calibrations(
            session(), actor(), after=paging["cursor"], limit=paging["limit"]
        )
        return listed(found, more=lambda row: {"active": row.id == active})

    @blueprint.arguments(NewCalibration(), required=False)
    @blueprint.response(201, answers.Calibration)
    @blueprint.doc(parameters=[DOCUMENTED])
    def post(self, _given: Mapping[str, Any], group_id: str) -> Response:
        """Calibrate: learn from all reports of the group.

        Doubtful reports are held back first and not learned from. The new calibration answers once
        it is activated.
        """
        hold_doubtful(database(), actor())
        with database().read() as reading:
            fitted = calibrations.calibrated(reading, actor())
        row = calibrations.keep_calibration(session(), actor(), fitted)
        return created(
            calibrations.described(row, active=False),
            "calibrations.OneCalibration",
            group_id=group_id,
            calibration_id=row.id,
        )


@blueprint.route("/groups/<hexid:group_id>/calibrations/<hexid:calibration_id>")
class OneCalibration(GroupView):
    """One calibration."""

    @blueprint.response(200, answers.Calibration)
    def get(self, group_id: str, calibration_id: str) -> Response:
        """Read a calibration: what it rests on and its coefficients."""
        return answered(calibrations.read_calibration(session(), actor(), calibration_id))


@blueprint.route("/groups/<hexid:group_id>/calibrations/<hexid:calibration_id>/activation")
class Activation(GroupView):
    """Choosing which calibration answers."""

    @blueprint.arguments(NewActivation(), required=False)
    @blueprint.response(200, answers.Calibration)
    @blueprint.doc(parameters=[DOCUMENTED])
    def post(self, _given: Mapping[str, Any], group_id: str, calibration_id: str) -> Response:
        """Let a calibration answer from now on; doing it twice changes nothing."""
        row = calibrations.activate(session(), actor(), calibration_id)
        return answered(calibrations.described(row, active=True))
