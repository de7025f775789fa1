"""Files as the body of a request."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

from flask import request
from werkzeug.exceptions import UnsupportedMediaType

from models.actions.file_outcome import FileRefused
from models.domain.errors import Invalid
from service.strict_json import whole_body


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
            faults = refused.outcome.faults
            raise Invalid(one.fault.under(f"rows.{one.row}") for one in faults) from refused
