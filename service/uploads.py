"""Files as the body of a request."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cached_property
from pathlib import Path
from tempfile import TemporaryDirectory
from threading import BoundedSemaphore
from typing import Any

from flask import current_app, g, request
from werkzeug.exceptions import ServiceUnavailable, UnsupportedMediaType

from models.actions.file_outcome import FileRefused
from models.actions.job_files import BYTES_IN_A_PIECE, pieces_of
from models.domain.errors import Invalid
from service.strict_json import require_length, whole_body

CSV = "text/csv"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
XLS = "application/vnd.ms-excel"
ODS = "application/vnd.oasis.opendocument.spreadsheet"
JSONL = "application/jsonl"

TABLES = (CSV, XLSX, XLS, ODS)
"""Media types of files that are taken in as tables."""

TABLE = {
    "required": True,
    "content": {
        CSV: {"schema": {"type": "string"}},
        **{kind: {"schema": {"type": "string", "format": "binary"}} for kind in TABLES[1:]},
    },
}
"""The documentation of a body that is a table."""


def answered_with(*types: str) -> dict[str, Any]:
    """Return the documentation of an answer that is a file of one of some media types."""
    text = {"schema": {"type": "string"}}
    return {"200": {"description": "The file.", "content": dict.fromkeys(types, text)}}


AT_ONCE = 2
"""Files that are read at the same time while people wait: each may take tens of MB of memory."""
PATIENCE_S = 10

_turns = BoundedSemaphore(AT_ONCE)


class Body:
    """The body of a request as a file, taken from the connection once, when it is asked for."""

    def __init__(self, folder: str) -> None:
        self._folder = Path(folder)

    @cached_property
    def path(self) -> Path:
        """Where it is.

        Raises
        ------
        RequestEntityTooLarge, BadRequest
            Where it is too long or cut off.

        """
        path = self._folder / "body"
        with path.open("wb") as file:
            for piece in iter(lambda: request.stream.read(BYTES_IN_A_PIECE), b""):
                file.write(piece)
                require_length(request, file.tell(), whole=False)
            require_length(request, file.tell())
        return path


@contextmanager
def body_on_disk() -> Iterator[None]:
    """Let the body of this request be a file, as long as a file may be."""
    request.max_content_length = current_app.config["HEELDEPTH"].most_upload_bytes
    with TemporaryDirectory() as folder:
        g.body_on_disk = Body(folder)
        yield


def body_pieces() -> Iterator[bytes]:
    """Yield the body of this request, wherever it is."""
    if "body_on_disk" not in g:
        yield request.get_data()
        return
    with g.body_on_disk.path.open("rb") as file:
        yield from pieces_of(file)


@contextmanager
def uploaded(*types: str) -> Iterator[Path]:
    """Yield the file that is the body of this request, when it is its turn to be read.

    Rows that are refused become faults whose path begins with their row. Nobody may wait for the
    database while it lasts, or all who send files would wait with them.

    Raises
    ------
    UnsupportedMediaType
        Where it is of none of the media types.
    ServiceUnavailable
        Where the files of others are read for too long.
    Invalid
        Where rows of it were refused.

    """
    if request.mimetype not in types:
        raise UnsupportedMediaType(f"send a body of media type {' or '.join(types)}")
    with _body() as path, turn_to_read():
        try:
            yield path
        except FileRefused as refused:
            raise refused_rows(refused) from refused


@contextmanager
def _body() -> Iterator[Path]:
    if "body_on_disk" in g:
        yield g.body_on_disk.path
        return
    with TemporaryDirectory() as folder:
        path = Path(folder) / "body"
        path.write_bytes(whole_body(request))
        yield path


@contextmanager
def turn_to_read() -> Iterator[None]:
    """Wait for a turn at reading a file.

    Raises
    ------
    ServiceUnavailable
        Where the files of others are read for too long.

    """
    with place_among(_turns, "files of others are being read; send it again"):
        yield


@contextmanager
def place_among(places: BoundedSemaphore, refusal: str) -> Iterator[None]:
    """Wait for one of some places.

    Raises
    ------
    ServiceUnavailable
        Where none is free for too long.

    """
    if not places.acquire(timeout=PATIENCE_S):
        raise ServiceUnavailable(refusal)
    try:
        yield
    finally:
        places.release()


def refused_rows(refused: FileRefused) -> Invalid:
    """Return what is wrong with rows as faults whose path begins with their row."""
    return Invalid(one.fault.under(f"rows.{one.row}") for one in refused.outcome.faults)
