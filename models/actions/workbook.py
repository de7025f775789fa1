"""Workbooks: read as the text file they could have been, written (XLSX) without formulas."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import time
import zipfile
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from datetime import date
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import IO, Any

from models.actions import workbook_reader
from models.domain.errors import Fault, Invalid

_TEXT = "s"
_FIRST_DAY = date(1900, 3, 1)
"""The first day that all spreadsheets count alike: 1900 was no leap year (ECMA-376-1, 18.17.4)."""

_TO_ESCAPE = re.compile("[\ufffe\uffff]|_(?=x[0-9A-Fa-f]{4}_)")
"""How workbooks write characters that XML cannot hold (ECMA-376-1, 22.9.2.19)."""

_EPOCH = (1980, 1, 1, 0, 0, 0)

READER = Path(__file__).with_name("workbook_reader.py")
MEMORY_BYTES = 1 << 30
SECONDS = 20
"""What reading one workbook may take: 200,000 rows of 25 cells take a third of the
time and more than half of the memory."""
SECONDS_BETWEEN_LOOKS = 0.2

MOST_ROWS = 200_000
"""Rows of the first sheet of a workbook; CSV has no such limit."""

_ARCHIVE, _COMPOUND = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"
"""How XLSX and ODS begin, which are archives, and XLS, a compound file."""

_NO_WORKBOOK = "it is no workbook that can be read; save it as CSV"
_TOO_MUCH = (
    "it takes more memory or time to read than a workbook may: delete empty rows and columns, or "
    "save it as CSV"
)
_TOO_WIDE = (
    f"its first sheet has values in more than {workbook_reader.MOST_COLUMNS} columns: delete the "
    "columns beside what is filled in, or save it as CSV"
)


@contextmanager
def as_csv(
    path: Path,
    rows: int = MOST_ROWS,
    *,
    most: int = MOST_ROWS,
    after_each: Callable[[], None] = lambda: None,
) -> Iterator[Path]:
    """Yield a CSV file with the cells of a workbook's first sheet; other files as they are.

    So one reader checks both, and names rows and columns alike. A formula counts as the value that
    was saved with it, one without as an empty cell. A sheet of more than `rows` is refused; with
    `most`, rows after so many that are not blank are left out. `after_each` is called now and then
    while it is read, and may stop the reading by an exception of its own.

    Raises
    ------
    Invalid
        Where it is no workbook, or takes unreasonably much to read.

    """
    if not is_workbook(path):
        yield path
        return
    with TemporaryDirectory() as folder:
        copy = Path(folder) / f"{path.stem}.csv"
        _read(path, copy, rows, most, after_each)
        yield copy


def is_workbook(path: Path) -> bool:
    """Return whether a file begins as workbooks do: XLSX, ODS or XLS."""
    with path.open("rb") as file:
        return file.read(4) in (_ARCHIVE, _COMPOUND)


def _read(path: Path, copy: Path, rows: int, most: int, after_each: Callable[[], None]) -> None:
    """Have a process read a workbook; its death is a refusal of the file, and nobody else's."""
    limits = map(str, (rows, most, MEMORY_BYTES, SECONDS))
    command = [sys.executable, "-I", str(READER), str(path), str(copy), *limits]
    until = time.monotonic() + 2 * SECONDS
    # Rust would spend half a second on saying where memory ended.
    environment = {**os.environ, "RUST_BACKTRACE": "0"}
    with subprocess.Popen(  # noqa: S603 - a program of ours
        command, stdin=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=environment
    ) as reader:
        try:
            while (code := _ended(reader)) is None and time.monotonic() < until:
                after_each()
        finally:
            reader.kill()
    if code == workbook_reader.READ:
        return
    if code == workbook_reader.TOO_MANY_ROWS:
        raise refused(path, f"its first sheet has more than {rows:,} rows")
    if code == workbook_reader.TOO_MANY_COLUMNS:
        raise refused(path, _TOO_WIDE)
    raise refused(path, _NO_WORKBOOK if code == workbook_reader.NO_WORKBOOK else _TOO_MUCH)


def _ended(reader: subprocess.Popen[bytes]) -> int | None:
    with suppress(subprocess.TimeoutExpired):
        return reader.wait(SECONDS_BETWEEN_LOOKS)
    return None


def refused(path: Path, wanted: str) -> Invalid:
    """Return the refusal of a file as a whole."""
    return Invalid([Fault("file", path.name, wanted)])


def write_workbook(sheets: Mapping[str, Iterable[Sequence[Any]]], out: IO[bytes]) -> None:
    """Write rows as sheets by their titles; text is text, whatever it begins with.

    Nothing of the moment goes into the file: the same rows give the same bytes.
    """
    # Here, for a server starts without openpyxl: most never see a workbook.
    from openpyxl import Workbook  # noqa: PLC0415
    from openpyxl.cell import WriteOnlyCell  # noqa: PLC0415
    from openpyxl.writer.excel import ExcelWriter  # noqa: PLC0415

    book = Workbook(write_only=True)
    for title, rows in sheets.items():
        sheet = book.create_sheet(title)
        sheet.freeze_panes = "B2"
        text_cell = partial(WriteOnlyCell, sheet)
        for row in rows:
            sheet.append([_cell(value, text_cell) for value in row])
    with _Timeless(out, "w", zipfile.ZIP_DEFLATED) as archive:
        ExcelWriter(book, archive).save()


class _Timeless(zipfile.ZipFile):
    """An archive whose parts all have one date, and whose workbook says so too."""

    def writestr(self, zinfo_or_arcname: Any, data: Any, *_: Any, **_options: Any) -> None:
        if zinfo_or_arcname == "docProps/core.xml":
            data = re.sub(rb"\d{4}-\d\d-\d\dT[\d:]+Z", b"1980-01-01T00:00:00Z", _bytes(data))
        part = zipfile.ZipInfo(zinfo_or_arcname, _EPOCH)
        part.compress_type = self.compression
        super().writestr(part, data)

    def write(self, filename: Any, arcname: Any = None, *_: Any, **_options: Any) -> None:
        part = zipfile.ZipInfo(arcname, _EPOCH)
        part.compress_type = self.compression
        with Path(filename).open("rb") as source, self.open(part, "w", force_zip64=True) as target:
            while piece := source.read(1 << 20):
                target.write(piece)


def _bytes(data: str | bytes) -> bytes:
    return data.encode() if isinstance(data, str) else data


def _cell(value: Any, text_cell: Callable[[str], Any]) -> Any:
    """Return a value as a cell: days as days, text as text even where it looks like an error."""
    if isinstance(value, date) and value < _FIRST_DAY:
        value = value.isoformat()
    if not isinstance(value, str):
        return value
    cell = text_cell(_TO_ESCAPE.sub(lambda found: f"_x{ord(found[0]):04X}_", value))
    cell.data_type = _TEXT
    return cell
