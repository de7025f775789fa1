"""A file of reports to fill in: every column, one invented row, and what the columns mean."""

from __future__ import annotations

import csv
import io
from functools import cache
from typing import Any

from models.actions.workbook import write_workbook
from models.domain.report_columns import EXAMPLE, Explained, explained
from models.domain.reports import OPTIONAL_COLUMNS, USUAL_COLUMNS

COLUMNS = (*USUAL_COLUMNS, *OPTIONAL_COLUMNS)
_HEADINGS = ("column", "needed", "meaning", "what is right")


@cache
def template_csv() -> bytes:
    """Return the template as CSV."""
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(_rows())
    return text.getvalue().encode()


@cache
def template_workbook() -> bytes:
    """Return the template as a workbook whose second sheet explains the columns."""
    book = io.BytesIO()
    meanings = [_HEADINGS, *map(_meaning, explained())]
    write_workbook({"reports": _rows(), "columns": meanings}, book)
    return book.getvalue()


def _rows() -> list[tuple[Any, ...]]:
    return [COLUMNS, tuple(EXAMPLE.get(name, "") for name in COLUMNS)]


def _meaning(column: Explained) -> tuple[str, ...]:
    needed = "may be empty" if column.may_be_empty else "required"
    return (column.name, needed, column.meaning, column.wanted)
