"""Reports: one finished sock on one foot, with its fit score."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import Response, request

from models.actions import reports
from models.domain.roles import Action
from service import answers
from service.access import actor, needs
from service.idempotency import DOCUMENTED, forget
from service.limits import Counted, limited, person
from service.schemas import NewReport, Paging, ReportChange
from service.views import GroupView, Resources, answered, created, listed
from service.work import session

blueprint = Resources("reports", "Finished socks and how their heels fitted.")


@blueprint.route("/groups/<hexid:group_id>/reports")
class Reports(GroupView):
    """The reports of a group."""

    @needs(Action.READ_OWN)
    @blueprint.arguments(Paging(), location="query")
    @blueprint.response(200, answers.Reports)
    def get(self, paging: Mapping[str, Any], group_id: str) -> Response:
        """List your reports, oldest first.

        Stewards also see those of reporters who have not joined.
        """
        found = reports.list_reports(
            session(), actor(), after=paging["cursor"], limit=paging["limit"]
        )
        return listed(found)

    @needs(Action.RECORD)
    @limited(Counted.REPORTS, person)
    @blueprint.etag
    @blueprint.arguments(NewReport())
    @blueprint.response(201, answers.Report)
    @blueprint.doc(parameters=[DOCUMENTED])
    def post(self, given: Mapping[str, Any], group_id: str) -> Response:
        """Report a finished sock, on a foot that is given or was recorded before."""
        report_id = reports.record_report(session(), actor(), given)
        body = reports.as_read(session(), report_id)
        blueprint.set_etag({"id": report_id, "version": body["version"]})
        return created(body, "reports.OneReport", group_id=group_id, report_id=report_id)


@blueprint.route("/groups/<hexid:group_id>/reports/<hexid:report_id>")
@blueprint.etag
class OneReport(GroupView):
    """One report, which its reporter or a steward may correct."""

    @needs(Action.READ_OWN)
    @blueprint.response(200, answers.Report)
    def get(self, group_id: str, report_id: str) -> Response:
        """Read a report; its ETag is needed to change it."""
        body = reports.read_report(session(), actor(), report_id)
        blueprint.set_etag({"id": body["id"], "version": body["version"]})
        return answered(body)

    @needs(Action.RECORD)
    @blueprint.arguments(ReportChange())
    @blueprint.response(200, answers.Report)
    def patch(self, given: Mapping[str, Any], group_id: str, report_id: str) -> Response:
        """Correct a report: the fields given are changed, the others stay."""
        report = reports.report_to_correct(session(), actor(), report_id)
        blueprint.check_etag({"id": report.id, "version": report.version})
        reports.amend_report(session(), actor(), report, given)
        blueprint.set_etag({"id": report.id, "version": report.version})
        return answered(reports.as_read(session(), report.id))

    @needs(Action.RECORD)
    @blueprint.response(204)
    def delete(self, group_id: str, report_id: str) -> None:
        """Take a report back for good."""
        report = reports.own_report(session(), actor(), report_id)
        blueprint.check_etag({"id": report.id, "version": report.version})
        reports.delete_report(session(), report)
        forget(request.path)
