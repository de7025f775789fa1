"""The socks somebody has reported: what was said, what became of it, and correcting it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from models.actions import feet, reports, reviews
from models.domain.errors import Stale
from models.domain.foot import MEASUREMENT_NAMES
from models.domain.quantities import FIT_SCORES
from models.domain.reports import SYMPTOMS
from models.domain.roles import Action
from models.domain.sections import SECTIONS
from models.tables.socks import Report
from service.access import actor
from service.idempotency import forget
from service.pages.filled_in import differences, from_form, from_report
from service.pages.forms import attempt, loaded
from service.pages.frame import Pages
from service.pages.kept import is_id, unit_of
from service.pages.sending import remember_unit
from service.pages.telling import Telling
from service.pages.visitors import only_members
from service.schemas import ReportChange
from service.work import session

blueprint = Pages("socks", url_prefix="/groups/<hexid:group_id>/socks")

AT_ONCE = 20
MOST_STEPS = 50
"""Steps of a review that are shown; nobody takes more."""

CONFLICT = 409


@blueprint.get("")
@only_members(Action.READ_OWN)
def own_socks() -> str:
    """List one's own socks, the newest first; or those written down for who has not joined."""
    after, may = request.args.get("after"), actor().may(Action.RECORD_FOR_OTHERS)
    others = may and request.args.get("of") == "others"
    found = reports.list_reports(
        session(),
        actor(),
        after=after if is_id(after) else None,
        limit=AT_ONCE,
        newest_first=True,
        own=not others,
    )
    return render_template(
        "pages/socks.html", found=found, scores=FIT_SCORES, others=others, writes_for_others=may
    )


@blueprint.get("/<hexid:report_id>")
@only_members(Action.RECORD)
def sock(report_id: str) -> str:
    """Show a sock as it was reported, and what became of the report."""
    report, foot = _stored(report_id)
    steps = reviews.list_reviews(session(), actor(), report_id, after=None, limit=MOST_STEPS)
    return render_template(
        "pages/sock.html",
        report=report,
        foot={name: foot[name] for name in MEASUREMENT_NAMES if foot[name] is not None},
        steps=steps.rows,
        scores=FIT_SCORES,
        sections=SECTIONS,
        symptoms=[symptom for symptom in SYMPTOMS if report[symptom.name]],
        unit=unit_of(request.cookies),
    )


@blueprint.get("/<hexid:report_id>/change")
@only_members(Action.RECORD)
def change_page(report_id: str) -> str:
    """Show the form with what was reported."""
    report, foot = _stored(report_id)
    return _page(from_report(report, foot, unit_of(request.cookies)), report)


@blueprint.post("/<hexid:report_id>/change")
@only_members(Action.RECORD)
def change(report_id: str) -> ResponseReturnValue:
    """Correct a sock; where somebody else did so meanwhile, show both and change nothing."""
    told = from_form(request.form)
    report = reports.own_report(session(), actor(), report_id)
    stored, foot = _stored(report_id)
    if _is_stale(report):
        meanwhile = differences(from_report(stored, foot, told.kept.unit), told)
        return _page(told, stored, meanwhile=meanwhile), CONFLICT
    body, problems = told.read()
    if not problems:
        with attempt(told) as tried:
            given = loaded(body, ReportChange()) | _measured_again(body["foot"], stored, foot)
            reports.amend_report(session(), actor(), report, given)
        problems = tried.problems
    if problems:
        return _page(told, stored, problems=problems), 422
    where = url_for(".sock", group_id=actor().group_id, report_id=report_id, done="changed")
    return remember_unit(redirect(where), told.kept.unit)


@blueprint.post("/<hexid:report_id>/back")
@only_members(Action.RECORD)
def take_back(report_id: str) -> ResponseReturnValue:
    """Take a sock back for good."""
    report = reports.own_report(session(), actor(), report_id)
    if _is_stale(report):
        raise Stale("it has changed since you read it: look at it again")
    group_id = actor().group_id
    reports.delete_report(session(), report)
    forget(url_for("reports.OneReport", group_id=group_id, report_id=report_id))
    return redirect(url_for(".own_socks", group_id=group_id, done="back"))


def _stored(report_id: str) -> tuple[Mapping[str, Any], Mapping[str, Any]]:
    """Return one's own report and its foot as they are stored."""
    own = reports.own_report(session(), actor(), report_id)
    report = reports.as_read(session(), own.id)
    return report, feet.read_foot(session(), actor(), report["foot_id"])


def _is_stale(report: Report) -> bool:
    """Return whether a report has changed since the form was opened that was sent now."""
    return request.form.get("version") != str(report.version)


def _measured_again(
    measured: Mapping[str, float], report: Mapping[str, Any], foot: Mapping[str, Any]
) -> dict[str, str]:
    """Return the new foot of a report whose measurements are others now: feet never change."""
    if measured == {name: foot[name] for name in MEASUREMENT_NAMES if foot[name] is not None}:
        return {}
    given = {**measured, "reporter": report["reporter"]}
    foot_id, _ = feet.record_foot(session(), actor(), given)
    return {"foot_id": foot_id}


def _page(told: Telling, report: Mapping[str, Any], **more: Any) -> str:
    problems = more.pop("problems", ())
    return render_template(
        "pages/sock_form.html",
        told=told,
        report=report,
        problems=problems,
        faults={problem.name: problem for problem in problems},
        **more,
    )
