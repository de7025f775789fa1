"""Writing reports as a file that `import` takes in: CSV, a workbook, or lines of JSON."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator, Sequence
from enum import StrEnum
from tempfile import TemporaryFile
from typing import Any

import orjson
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from models.actions.actor import Actor
from models.actions.spreadsheet import safe_cell
from models.actions.workbook import write_workbook
from models.domain.foot import MEASUREMENT_NAMES
from models.domain.reports import OPTIONAL_COLUMNS, USUAL_COLUMNS
from models.domain.roles import Action
from models.tables.people import Member
from models.tables.socks import Design, Foot, Report, Size

COLUMNS = (*USUAL_COLUMNS, *OPTIONAL_COLUMNS)
_ROWS_AT_ONCE = 5000
_BYTES_AT_ONCE = 1 << 18

_ELSEWHERE = {
    "reporter": Member.name,
    "design": Design.name,
    "size": Size.label,
    **{name: getattr(Foot, name) for name in MEASUREMENT_NAMES},
}

Row = Sequence[Any]
Rows = Iterator[Sequence[Row]]


class Form(StrEnum):
    """What kind of file; only the first two are taken in again."""

    CSV = "csv"
    XLSX = "xlsx"
    JSONL = "jsonl"


def count_reports(session: Session, actor: Actor) -> int:
    """Return how many reports an export will have."""
    query = select(func.count()).select_from(Report).where(*actor.sees(Report))
    return session.scalar(query) or 0


def exported(
    session: Session,
    actor: Actor,
    form: Form = Form.CSV,
    progress: Callable[[int], None] = lambda _rows: None,
) -> Iterator[bytes]:
    """Return the pieces of a file of all reports that the actor may see, oldest first.

    Those are the actor's own, for stewards also those of reporters who have not joined, for the
    operator all. The same reports give the same bytes.
    """
    actor.require(Action.READ_OWN)
    return _WRITERS[form](_told(_read(session, actor), progress))


def _read(session: Session, actor: Actor) -> Rows:
    query = (
        select(*(_column(name) for name in COLUMNS))
        .join(Member, Member.id == Report.member_id)
        .join(Foot, Foot.id == Report.foot_id)
        .outerjoin(Design, Design.id == Report.design_id)
        .outerjoin(Size, Size.id == Report.size_id)
        .where(*actor.sees(Report))
        .order_by(Report.id)
    )
    found = session.execute(query.execution_options(yield_per=_ROWS_AT_ONCE))
    for rows in found.partitions():
        yield [[_plain(value) for value in row] for row in rows]


def _column(name: str) -> Any:
    return _ELSEWHERE[name] if name in _ELSEWHERE else getattr(Report, name)


def _plain(value: Any) -> Any:
    """Return a value as people type it: whole numbers lose the empty decimal."""
    return int(value) if isinstance(value, float) and value.is_integer() else value


def _told(rows: Rows, progress: Callable[[int], None]) -> Rows:
    for some in rows:
        yield some
        progress(len(some))


def _csv(rows: Rows) -> Iterator[bytes]:
    yield _lines([COLUMNS])
    for some in rows:
        yield _lines(_safe(some))


def _lines(rows: Sequence[Row]) -> bytes:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)
    return text.getvalue().encode()


def _safe(rows: Sequence[Row]) -> list[Row]:
    return [[safe_cell(value) for value in row] for row in rows]


def _jsonl(rows: Rows) -> Iterator[bytes]:
    for some in rows:
        yield b"".join(
            orjson.dumps(dict(zip(COLUMNS, row, strict=True)), option=orjson.OPT_APPEND_NEWLINE)
            for row in some
        )


def _xlsx(rows: Rows) -> Iterator[bytes]:
    with TemporaryFile() as file:
        write_workbook({"reports": _sheet(rows)}, file)
        file.seek(0)
        while piece := file.read(_BYTES_AT_ONCE):
            yield piece


def _sheet(rows: Rows) -> Iterator[Row]:
    yield COLUMNS
    for some in rows:
        yield from _safe(some)


_WRITERS: dict[Form, Callable[[Rows], Iterator[bytes]]] = {
    Form.CSV: _csv,
    Form.XLSX: _xlsx,
    Form.JSONL: _jsonl,
}
