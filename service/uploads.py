"""Files as the body of a request."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from flask import request
from werkzeug.exceptions import UnsupportedMediaType

from models.actions.file_outcome import FileRefused
from models.domain.errors import Invalid
from service.strict_json import whole_body

CSV = "text/csv"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
JSONL = "application/jsonl"

TABLE = {
    "required": True,
    "content": {
        CSV: {"schema": {"type": "string"}},
        XLSX: {"schema": {"type": "string", "format": "binary"}},
    },
}
"""The documentation of a body that is a table."""


def answered_with(*types: str) -> dict[str, Any]:
    """Return the documentation of an answer that is a file of one of some media types."""
    text = {"schema": {"type": "string"}}
    return {"200": {"description": "The file.", "content": dict.fromkeys(types, text)}}


@contextmanager
def uploaded(*types: str) -> Iterator[Path]:
    """Yield the file that is the body of this request, kept as long as it is being read.

    Rows that are refused become faults whose path begins with their row.

    Raises
    ------
    UnsupportedMediaType
        Where it is of none of the media types.
    Invalid
        Where rows of it were refused.

    """
    if request.mimetype not in types:
        raise UnsupportedMediaType(f"send a body of media type {' or '.join(types)}")
    with TemporaryDirectory() as folder:
        path = Path(folder) / "body"
        path.write_bytes(whole_body(request))
        try:
            yield path
        except FileRefused as refused:
            raise refused_rows(refused) from refused


def refused_rows(refused: FileRefused) -> Invalid:
    """Return what is wrong with rows as faults whose path begins with their row."""
    return Invalid(one.fault.under(f"rows.{one.row}") for one in refused.outcome.faults)
