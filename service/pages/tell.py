"""Tell: reporting a finished sock, from the suggestion that it followed or from scratch."""

from __future__ import annotations

from flask import redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from models.actions import feet, reports, suggestions
from models.domain.roles import Action
from models.tables.base import new_id
from service.access import actor
from service.limits import Counted, count, person
from service.pages.filled_in import blank, from_form, from_suggestion, like
from service.pages.forms import attempt, loaded
from service.pages.frame import Pages
from service.pages.kept import is_id, unit_of
from service.pages.reading import Problem
from service.pages.sending import KEY_FIELD, once_by_form, remember_unit
from service.pages.telling import FOLLOWED, Telling
from service.pages.visitors import only_members
from service.schemas import NewReport
from service.work import session

blueprint = Pages("tell", url_prefix="/groups/<hexid:group_id>/tell")

LATEST = 8
"""How many suggestions there are to choose from before one looks into the whole list."""


@blueprint.get("")
@only_members(Action.RECORD)
def choose() -> str:
    """Ask which sock it is."""
    found = suggestions.list_suggestions(
        session(), actor(), after=None, limit=LATEST, newest_first=True
    )
    unit = unit_of(request.cookies)
    return render_template("pages/tell.html", found=found, unit=unit)


@blueprint.get("/sock")
@only_members(Action.RECORD)
def sock() -> str:
    """Show the form, filled in as far as the sock is known."""
    told = _known()
    followed = told.said.get(FOLLOWED)
    already = followed and suggestions.reports_following(session(), actor(), followed)
    return _page(told, already=already)


@blueprint.post("/sock")
@only_members(Action.RECORD)
@once_by_form
def record() -> ResponseReturnValue:
    """Record a sock, once however often it is sent, and show what was recorded."""
    count(Counted.REPORTS, person())
    told = from_form(request.form)
    body, problems = told.read()
    if not problems:
        with attempt(told) as tried:
            report_id = reports.record_report(session(), actor(), loaded(body, NewReport()))
        problems = tried.problems
    if problems:
        return _page(told, problems, key=request.form.get(KEY_FIELD) or new_id()), 422
    where = url_for("socks.sock", group_id=actor().group_id, report_id=report_id, done="recorded")
    return remember_unit(redirect(where), told.kept.unit)


def _known() -> Telling:
    """Return what is known of the sock that the address names."""
    unit = unit_of(request.cookies)
    followed, copied = request.args.get("suggestion"), request.args.get("like")
    if is_id(followed):
        told = suggestions.read_suggestion(session(), actor(), followed)
        return from_suggestion(told, unit)
    if is_id(copied):
        report = reports.as_read(session(), reports.own_report(session(), actor(), copied).id)
        return like(report, feet.read_foot(session(), actor(), report["foot_id"]), unit)
    return blank(unit)


def _page(told: Telling, problems: tuple[Problem, ...] = (), **more: object) -> str:
    return render_template(
        "pages/sock_form.html",
        told=told,
        problems=problems,
        faults={problem.name: problem for problem in problems},
        for_others=actor().may(Action.RECORD_FOR_OTHERS),
        **{"key": new_id(), **more},
    )
