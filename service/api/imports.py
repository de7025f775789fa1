"""Files of reports taken in."""

from __future__ import annotations

from collections.abc import Mapping

from flask import Response

from models.actions import report_template
from models.domain.roles import Action
from service.access import actor, needs, open_to_everybody
from service.idempotency import DOCUMENTED
from service.imported import imported, is_short, rows_of
from service.job_answers import Imported, Job
from service.job_schemas import ImportOptions, TemplateForm
from service.jobs.asking import PREFER, accepted, prefers_async
from service.limits import Counted, limited, person
from service.uploads import CSV, TABLE, TABLES, XLSX, answered_with, uploaded
from service.views import OpenView, Resources, UploadView, answered, file_of
from service.work import session

blueprint = Resources("imports", "Files of reports taken in.")


@blueprint.route("/import-template")
class Template(OpenView):
    """A file to fill in."""

    @open_to_everybody
    @blueprint.arguments(TemplateForm(), location="query")
    @blueprint.response(200)
    @blueprint.doc(responses=answered_with(CSV, XLSX))
    def get(self, asked: Mapping[str, str]) -> Response:
        """Read a file of reports to fill in, with one invented row; a workbook explains columns."""
        if asked["form"] == "xlsx":
            return file_of(report_template.template_workbook(), XLSX, "reports.xlsx")
        return file_of(report_template.template_csv(), CSV, "reports.csv")


@blueprint.route("/groups/<hexid:group_id>/imports")
class Imports(UploadView):
    """Files of reports."""

    @needs(Action.RECORD_FOR_OTHERS)
    @limited(Counted.IMPORTS, person)
    @blueprint.arguments(ImportOptions(), location="query")
    @blueprint.response(207, Imported)
    @blueprint.alt_response(202, schema=Job, success=True)
    @blueprint.doc(parameters=[DOCUMENTED, PREFER], requestBody=TABLE)
    def post(self, asked: Mapping[str, bool], group_id: str) -> Response:
        """Take in a file of reports, CSV or a workbook: all of it, or what is right.

        Up to 500 rows (1 MB of CSV) are answered at once, row by row; a longer file becomes a job.
        What the group has already is left as it is, so a sheet that has grown can be sent again.
        """
        with uploaded(*TABLES) as path:
            chunks = rows_of(path) if is_short(path) and not prefers_async() else None
        # The turn at reading is over: what follows may wait for those who write.
        if chunks is not None:
            return answered(imported(session(), actor(), chunks, asked), 207)
        with path.open("rb") as file:
            return accepted("import", asked, file)
