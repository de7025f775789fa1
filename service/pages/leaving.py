"""One's own data: taking it along, and having it erased, in one group or everywhere."""

from __future__ import annotations

from flask import redirect, request, url_for
from flask.typing import ResponseReturnValue

from models.actions import leaving
from models.actions.erasing import Leaving
from models.domain.roles import Action
from service import sessions, work
from service.access import asker
from service.erasing import LATER, Way, erase_now
from service.pages.forms import Field, Form, attempt
from service.pages.frame import Pages
from service.pages.login import confirm
from service.pages.reading import Problem
from service.pages.sending import forget_typed
from service.pages.visitors import only_persons
from service.work import database

blueprint = Pages("leaving", url_prefix="/account/data")

PASSWORD = "password"  # noqa: S105 - a field
PLACE = "place"
EVERYWHERE = "everywhere"
NOTHING_CHOSEN = Problem(PLACE, "Choose what is to be erased.")

ERASING = Form(
    "Your data",
    "Erase it",
    (
        Field(
            PASSWORD,
            "Password",
            "So that nobody erases you who finds this page open.",
            "password",
            "current-password",
        ),
    ),
)


@blueprint.get("")
@only_persons(Action.ERASE)
def page() -> str:
    """Show how to take one's data along, and what can be erased."""
    return _shown()


@blueprint.post("")
@only_persons(Action.ERASE)
def erase() -> ResponseReturnValue:
    """Erase one's place in a group, or the account with all of them.

    Nothing is opened for writing before: erasing has transactions of its own.
    """
    place = request.form.get(PLACE, "")
    if not place:
        return _shown(problems=(NOTHING_CHOSEN,)), 422
    with attempt(ERASING) as tried:
        erase_now(database(), _whose(place), Way(work.workroom(), instead=LATER))
    if tried.problems:
        return _shown(problems=tried.problems), 422
    if place == EVERYWHERE:
        return forget_typed(sessions.forget(redirect(url_for("pages.start", done="erased"))))
    return redirect(url_for(".page", done="erased"))


def _whose(place: str) -> Leaving:
    """Return what is to be erased, where the password is right."""
    with database().read() as reading:
        if place == EVERYWHERE:
            whose = leaving.whole_account(reading, asker(), Action.ERASE)
        else:
            whose = leaving.own_place(reading, asker(), place)
    confirm(PASSWORD, request.form.get(PASSWORD, ""))
    return whose


def _shown(**more: object) -> str:
    with database().read() as reading:
        places = leaving.own_places(reading, asker())
    chosen = request.form.get(PLACE)
    return ERASING.shown(
        "pages/data.html", places=places, chosen=chosen, everywhere=EVERYWHERE, **more
    )
