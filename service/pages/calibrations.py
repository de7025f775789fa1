"""The calibrations of a group: calibrating, the card of each, and which of them answers."""

from __future__ import annotations

from typing import Any

from flask import redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from models.actions import activations
from models.actions.cards import read_card
from models.actions.timeline import timeline
from models.domain.roles import Action
from service.access import actor
from service.pages.forms import Field, Form, attempt, loaded
from service.pages.frame import Pages
from service.pages.progress import begun
from service.pages.visitors import only_members
from service.schemas import NewActivation
from service.work import session

blueprint = Pages("calibration_pages", url_prefix="/groups/<hexid:group_id>/calibrations")

ACTIVATING = Form(
    "Let it answer",
    "Let it answer from now on",
    (Field("reason", "Why", "In a few words, for the others; it may be left out."),),
)
GOING_BACK = Form("Go back", "Let the one before answer again", (Field("rollback", "Going back"),))


@blueprint.get("")
@only_members(Action.READ_GROUP)
def page() -> str:
    """List the calibrations, and let designers make one or go back."""
    return _listed()


@blueprint.post("")
@only_members(Action.CALIBRATE)
def calibrate() -> ResponseReturnValue:
    """Learn from all reports that count, and show the card of what came of it once it is there."""
    return begun("calibration", {})


@blueprint.post("/rollback")
@only_members(Action.CALIBRATE)
def roll_back() -> ResponseReturnValue:
    """Let the calibration answer again that answered before."""
    with attempt(GOING_BACK) as tried:
        row = activations.roll_back(session(), actor())
        return _to_card(row.id, "activated")
    return _listed(problems=tried.problems), 409


@blueprint.get("/<hexid:calibration_id>")
@only_members(Action.READ_GROUP)
def card(calibration_id: str) -> str:
    """Show the card of a calibration."""
    return _card(calibration_id)


@blueprint.post("/<hexid:calibration_id>/activation")
@only_members(Action.CALIBRATE)
def activate(calibration_id: str) -> ResponseReturnValue:
    """Let a calibration answer, whatever its verdict was."""
    with attempt(ACTIVATING) as tried:
        given = loaded(ACTIVATING.given(), NewActivation())
        row = activations.activate(session(), actor(), calibration_id, given["reason"])
        return _to_card(row.id, "activated")
    return _card(calibration_id, problems=tried.problems), 422


def _listed(**more: Any) -> str:
    history = timeline(session(), actor())
    going_back = len(activations.history(session(), actor().group_id).stack) > 1
    may = actor().may(Action.CALIBRATE)
    return render_template(
        "pages/calibrations.html", history=history, may=may, going_back=may and going_back, **more
    )


def _card(calibration_id: str, **more: Any) -> str:
    told = read_card(session(), actor(), calibration_id)
    may = actor().may(Action.CALIBRATE) and not told["active"]
    return ACTIVATING.shown("pages/card.html", card=told, may=may, **more)


def _to_card(calibration_id: str, done: str) -> ResponseReturnValue:
    group_id = actor().group_id
    return redirect(
        url_for(".card", group_id=group_id, calibration_id=calibration_id, done=done), 303
    )
