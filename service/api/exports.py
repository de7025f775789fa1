"""Reports as files."""

from __future__ import annotations

from collections.abc import Mapping

from flask import Response

from models.actions import export_reports
from models.domain.roles import Action
from service.access import actor, needs
from service.api.jobs import MEDIA_TYPES
from service.idempotency import DOCUMENTED
from service.job_answers import Job
from service.job_schemas import ExportForm, NewExport
from service.jobs.asking import accepted
from service.limits import Counted, limited, person
from service.uploads import CSV, JSONL, XLSX, answered_with
from service.views import GroupView, Resources, streamed

blueprint = Resources("exports", "Reports as files.")


@blueprint.route("/groups/<hexid:group_id>/exports")
class Exports(GroupView):
    """Files of the reports that one may see."""

    @needs(Action.READ_OWN)
    @limited(Counted.EXPORTS, person)
    @blueprint.arguments(ExportForm(), location="query")
    @blueprint.response(200)
    @blueprint.doc(responses=answered_with(CSV, XLSX, JSONL))
    def get(self, asked: Mapping[str, str], group_id: str) -> Response:
        """Read your reports as a file: CSV, a workbook, or lines of JSON.

        Stewards also get those of reporters who have not joined, with a token of scope steward.
        Spreadsheets run nothing in it; numbers are numbers. CSV and workbooks can be imported.
        """
        who, form = actor(), export_reports.Form(asked["form"])
        return streamed(
            lambda reading: export_reports.exported(reading, who, form),
            MEDIA_TYPES[form],
            f"reports.{form}",
        )

    @needs(Action.READ_OWN)
    @limited(Counted.EXPORTS, person)
    @blueprint.arguments(NewExport(), required=False)
    @blueprint.response(202, Job)
    @blueprint.doc(parameters=[DOCUMENTED])
    def post(self, given: Mapping[str, str], group_id: str) -> Response:
        """Have such a file made in the background; the job keeps it for a day."""
        return accepted("export", {"form": given["form"]})
