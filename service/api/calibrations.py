"""Calibrations: fitted models of a group, one of which answers."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any

from flask import Response

from models.actions import activations, calibrations, cards
from models.domain.errors import Busy
from models.domain.roles import Action
from service import answers
from service.access import actor, needs
from service.calibrating import PATIENCE_S, calibrated, one_at_a_time
from service.card_answers import Card
from service.idempotency import DOCUMENTED
from service.job_answers import Job
from service.jobs.asking import PREFER, accepted, prefers_async
from service.schemas import NewActivation, NewCalibration, NewRollback, Paging
from service.views import GroupView, Resources, answered, created, listed
from service.work import database, session, until_the_end, workroom

blueprint = Resources("calibrations", "Models fitted to a group's reports.")


@blueprint.route("/groups/<hexid:group_id>/calibrations")
class Calibrations(GroupView):
    """The calibrations of a group."""

    @needs(Action.READ_GROUP)
    @blueprint.arguments(Paging(), location="query")
    @blueprint.response(200, answers.Calibrations)
    def get(self, paging: Mapping[str, Any], group_id: str) -> Response:
        """List the calibrations, oldest first."""
        found, past = calibrations.list_calibrations(
            session(), actor(), after=paging["cursor"], limit=paging["limit"]
        )
        return listed(found, more=lambda row: calibrations.standing_and_counts(past, row, actor()))

    @needs(Action.CALIBRATE)
    @blueprint.arguments(NewCalibration(), required=False)
    @blueprint.response(201, answers.Calibration)
    @blueprint.alt_response(202, schema=Job, success=True)
    @blueprint.doc(parameters=[DOCUMENTED, PREFER])
    def post(self, _given: Mapping[str, Any], group_id: str) -> Response:
        """Calibrate: learn from all reports of the group, at once or as a job.

        Doubtful reports are held back first and not learned from. The new calibration is compared
        with the one that answers and with geometry alone, and answers from now on where it is not
        worse. Otherwise it waits, and `reasons` says why. What cannot be done at once, because the
        group is being calibrated or many others are, becomes a job.
        """
        if prefers_async():
            return accepted("calibration", {})
        try:
            until_the_end(one_at_a_time(database(), actor(), patience_s=PATIENCE_S))
            judged = workroom().run(partial(calibrated, actor=actor()))
        except Busy:
            return accepted("calibration", {})
        row = calibrations.keep_calibration(session(), actor(), judged)
        return created(
            calibrations.described(session(), row, actor()),
            "calibrations.OneCalibration",
            group_id=group_id,
            calibration_id=row.id,
        )


@blueprint.route("/groups/<hexid:group_id>/calibrations/<hexid:calibration_id>")
class OneCalibration(GroupView):
    """One calibration."""

    @needs(Action.READ_GROUP)
    @blueprint.response(200, answers.Calibration)
    def get(self, group_id: str, calibration_id: str) -> Response:
        """Read a calibration: what it rests on and its coefficients."""
        return answered(calibrations.read_calibration(session(), actor(), calibration_id))


@blueprint.route("/groups/<hexid:group_id>/calibrations/<hexid:calibration_id>/activation")
class Activation(GroupView):
    """Choosing which calibration answers."""

    @needs(Action.CALIBRATE)
    @blueprint.arguments(NewActivation(), required=False)
    @blueprint.response(200, answers.Calibration)
    @blueprint.doc(parameters=[DOCUMENTED])
    def post(self, given: Mapping[str, Any], group_id: str, calibration_id: str) -> Response:
        """Let a calibration answer from now on, waiting or not; doing it twice changes nothing."""
        row = activations.activate(session(), actor(), calibration_id, given["reason"])
        return answered(calibrations.described(session(), row, actor()))


@blueprint.route("/groups/<hexid:group_id>/calibrations/<hexid:calibration_id>/card")
class OneCard(GroupView):
    """What a calibration rests on and how good it is."""

    @needs(Action.READ_GROUP)
    @blueprint.response(200, Card)
    def get(self, group_id: str, calibration_id: str) -> Response:
        """Read the card of a calibration, ready for a page.

        Counts, what was learned in slow-decrease rounds, how well it foresees reports of people it
        had not met, and what changed. Nothing is about fewer than ten people; stewards also see
        who has an unusual offset. Those who do not calibrate see what was learned, in whole rounds.
        """
        return answered(cards.read_card(session(), actor(), calibration_id))


@blueprint.route("/groups/<hexid:group_id>/rollbacks")
class Rollbacks(GroupView):
    """Going back to the calibration that answered before."""

    @needs(Action.CALIBRATE)
    @blueprint.arguments(NewRollback(), required=False)
    @blueprint.response(200, answers.Calibration)
    @blueprint.doc(parameters=[DOCUMENTED])
    def post(self, _given: Mapping[str, Any], group_id: str) -> Response:
        """Let the calibration answer again that answered before the active one.

        Twice goes back two. The one that is taken off stays, and can be activated again.
        """
        row = activations.roll_back(session(), actor())
        return answered(calibrations.described(session(), row, actor()))
