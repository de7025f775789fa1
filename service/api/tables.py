"""A design's tables as files: the heel of every size for its pattern, and its sizes."""

from __future__ import annotations

import io
from collections.abc import Mapping

from flask import Response, render_template

from models.actions import pattern_tables, size_files
from models.actions.keep_designs import own_design
from models.actions.sizes import put_sizes
from models.domain.care import CAUTIONS
from models.domain.pattern_table import Line
from models.domain.roles import Action
from service import default_schemas as schemas
from service.access import actor, needs
from service.idempotency import DOCUMENTED
from service.uploads import CSV, TABLE, TABLES, XLSX, answered_with, uploaded
from service.views import GroupView, Resources, answered
from service.work import session

blueprint = Resources("tables", "A design's tables as files.")
blueprint.template_folder = "../templates"

_DESIGN = "/groups/<hexid:group_id>/designs/<hexid:design_id>"
HTML, TEXT = "text/html", "text/plain"


@blueprint.route(f"{_DESIGN}/pattern-table")
class PatternTable(GroupView):
    """Every section's rounds and stitches, for all sizes side by side."""

    @needs(Action.READ_GROUP)
    @blueprint.arguments(schemas.PatternForm(), location="query")
    @blueprint.response(200)
    @blueprint.doc(responses=answered_with(TEXT, CSV, HTML))
    def get(self, asked: Mapping[str, str], group_id: str, design_id: str) -> Response:
        """Read the table as a pattern prints it: as text, as CSV, or as a page to print."""
        design = own_design(session(), actor(), design_id)
        lines = pattern_tables.lines_of(session(), actor(), design)
        if asked["form"] == "csv":
            return Response(pattern_tables.as_csv(lines), mimetype=CSV)
        if asked["form"] == "html":
            return Response(_page(design.name, lines), mimetype=HTML)
        return Response(pattern_tables.as_text(design.name, lines), mimetype=TEXT)


@blueprint.route(f"{_DESIGN}/size-table")
class SizeTable(GroupView):
    """The sizes of a design as a file."""

    @needs(Action.READ_GROUP)
    @blueprint.arguments(schemas.TableForm(), location="query")
    @blueprint.response(200)
    @blueprint.doc(responses=answered_with(CSV, XLSX))
    def get(self, asked: Mapping[str, str], group_id: str, design_id: str) -> Response:
        """Read the size table as `heeldepth sizes import` takes it in: CSV or a workbook."""
        design = own_design(session(), actor(), design_id)
        if asked["form"] == "xlsx":
            book = io.BytesIO()
            size_files.export_workbook(session(), actor(), design, book)
            return Response(book.getvalue(), mimetype=XLSX)
        text = io.StringIO(newline="")
        size_files.export_csv(session(), actor(), design, text)
        return Response(text.getvalue(), mimetype=CSV)

    @needs(Action.KEEP_DESIGNS)
    @blueprint.response(200, schemas.SizesTaken)
    @blueprint.doc(parameters=[DOCUMENTED], requestBody=TABLE)
    def post(self, group_id: str, design_id: str) -> Response:
        """Take in a size table, CSV or a workbook: all of it or nothing.

        Sizes are known by their labels and get the order of the rows; those that the table leaves
        out stay, after the others.
        """
        with uploaded(*TABLES) as path:
            sizes = size_files.read_sizes(path)
        design = own_design(session(), actor(), design_id)
        new, changed = put_sizes(session(), actor(), design, sizes)
        return answered({"new": new, "changed": changed})


def _page(name: str, lines: list[Line]) -> str:
    labels = list(lines[0].values)
    return render_template(
        "pattern_table.html", name=name, labels=labels, lines=lines, cautions=CAUTIONS
    )
