"""Workbooks (XLSX): read as the text file they could have been, written without formulas."""

from __future__ import annotations

import csv
import re
import zipfile
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import date, datetime, time
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import IO, Any
from xml.etree.ElementTree import ParseError

from models.actions.workbook_parts import Bounds, refused, require_readable, unpacked_bytes

MOST_COLUMNS = 100

_FORMULA = "f"
_TEXT = "s"
_FIRST_DAY = date(1900, 3, 1)
"""The first day that all spreadsheets count alike: 1900 was no leap year (ECMA-376-1, 18.17.4)."""

_TO_ESCAPE = re.compile("[\ufffe\uffff]|_(?=x[0-9A-Fa-f]{4}_)")
_ESCAPED = re.compile("_x(?!0000|[Dd][89A-Fa-f])([0-9A-Fa-f]{4})_")
"""How workbooks write characters that XML cannot hold (ECMA-376-1, 22.9.2.19), and how we read
them: no null characters and no halves of a character."""

_EPOCH = (1980, 1, 1, 0, 0, 0)
_UNREADABLE = (
    zipfile.BadZipFile,
    zlib.error,
    ParseError,
    ArithmeticError,
    AttributeError,
    EOFError,
    LookupError,
    NotImplementedError,
    OSError,
    RuntimeError,
    TypeError,
    ValueError,
)
"""What zipfile, the XML parser and openpyxl raise for files that are no sound workbooks."""
_NO_WORKBOOK = "it is no workbook that can be read; save it as CSV"


AT_ONCE = Bounds(rows=2_000, unpacked_bytes=8_000_000)
"""The largest workbook that is read while somebody waits: reading 4 MB takes about a second. 2,000
sizes or 500 reports unpack to some 1.5 MB, which leaves room for formats and pictures."""


@contextmanager
def as_csv(
    path: Path,
    bounds: Bounds = AT_ONCE,
    *,
    most: int | None = None,
    after_each: Callable[[], None] = lambda: None,
) -> Iterator[Path]:
    """Yield a CSV file with the cells of a workbook's first sheet; other files as they are.

    So one reader checks both, and names rows and columns alike. No formula is worked out. With
    `most`, rows after so many that are not blank are left out. `after_each` row is called, and may
    stop the reading by an exception of its own.

    Raises
    ------
    Invalid
        Where it is no workbook, is unreasonably large, or has formulas instead of values.

    """
    if not is_workbook(path):
        yield path
        return
    with TemporaryDirectory() as folder:
        copy = Path(folder) / f"{path.stem}.csv"
        with copy.open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, lineterminator="\n")
            for row in _rows(path, bounds, most):
                writer.writerow(row)
                after_each()
        yield copy


def is_workbook(path: Path) -> bool:
    """Return whether a file begins as workbooks do."""
    with path.open("rb") as file:
        return file.read(4) == b"PK\x03\x04"


def takes_long(path: Path, bounds: Bounds) -> bool:
    """Return whether a file is a workbook that is too large to be read while somebody waits.

    Raises
    ------
    Invalid
        Where it is no workbook after all, or larger than `bounds`.

    """
    try:
        return is_workbook(path) and unpacked_bytes(path, bounds) > AT_ONCE.unpacked_bytes
    except _UNREADABLE as error:
        raise refused(path, _NO_WORKBOOK) from error


def write_workbook(sheets: Mapping[str, Iterable[Sequence[Any]]], out: IO[bytes]) -> None:
    """Write rows as sheets by their titles; text is text, whatever it begins with.

    Nothing of the moment goes into the file: the same rows give the same bytes.
    """
    # Here, and in `_rows`, for a server starts without openpyxl: most never see a workbook.
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


def _rows(path: Path, bounds: Bounds, most: int | None) -> Iterator[list[Any]]:
    from openpyxl import load_workbook  # noqa: PLC0415

    try:
        require_readable(path, bounds)
        with path.open("rb") as file:  # by its name openpyxl would refuse it
            book = load_workbook(file, read_only=True, keep_links=False)
            yield from _kept(_cells(book, path, bounds), path, most)
            book.close()
    except _UNREADABLE as error:
        raise refused(path, _NO_WORKBOOK) from error


def _kept(rows: Iterable[Any], path: Path, most: int | None) -> Iterator[list[Any]]:
    filled = 0
    for row in rows:
        values = _trimmed(list(_values(row, path)))
        filled += bool(values)
        if most is not None and filled > most:
            return
        yield values


def _cells(book: Any, path: Path, bounds: Bounds) -> Iterator[tuple[Any, ...]]:
    rows = book.worksheets[0].iter_rows(max_row=bounds.rows + 1, max_col=MOST_COLUMNS)
    for number, row in enumerate(rows, start=1):
        if number > bounds.rows:
            raise refused(path, f"its first sheet has more than {bounds.rows:,} rows")
        yield row


def _values(row: Iterable[Any], path: Path) -> Iterator[Any]:
    for cell in row:
        if cell.data_type == _FORMULA:
            wanted = f"cell {cell.coordinate} is a formula; put its value there"
            raise refused(path, wanted)
        yield _plain(cell.value)


def _plain(value: Any) -> Any:
    """Return a cell's value as CSV would have it: whole numbers and days without empty parts."""
    if isinstance(value, float) and value.is_integer():
        return int(value)
    if isinstance(value, datetime) and value.time() == time():
        return value.date()
    if isinstance(value, str):
        return _ESCAPED.sub(lambda found: chr(int(found[1], 16)), value)
    return value


def _trimmed(values: list[Any]) -> list[Any]:
    """Return a row without the empty cells after its last value."""
    filled = [place for place, value in enumerate(values, start=1) if value is not None]
    return values[: max(filled, default=0)]
