"""Workbooks (XLSX): read as the text file they could have been, written without formulas."""

from __future__ import annotations

import csv
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import IO, Any
from xml.etree.ElementTree import ParseError

from openpyxl import Workbook, load_workbook
from openpyxl.utils.exceptions import InvalidFileException

from models.domain.errors import Fault, Invalid

MOST_UNPACKED_BYTES = 20_000_000
MOST_ROWS, MOST_COLUMNS = 2000, 100

_UNREADABLE = (
    InvalidFileException,
    zipfile.BadZipFile,
    ParseError,  # a part is no XML, or one that unfolds to far more than it is
    LookupError,  # a part is missing that others name
    ValueError,
    OSError,
)
"""What openpyxl raises for files that only look like workbooks."""

_FORMULA = "f"
_TEXT = "s"


@contextmanager
def as_csv(path: Path) -> Iterator[Path]:
    """Yield a CSV file with the cells of a workbook's first sheet; other files as they are.

    So one reader checks both, and names rows and columns alike. No formula is worked out.

    Raises
    ------
    Invalid
        Where it is no workbook, is unreasonably large, or has formulas instead of values.

    """
    if not is_workbook(path):
        yield path
        return
    rows = _rows(path)
    with TemporaryDirectory() as folder:
        copy = Path(folder) / f"{path.stem}.csv"
        with copy.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file, lineterminator="\n").writerows(rows)
        yield copy


def is_workbook(path: Path) -> bool:
    """Return whether a file begins as workbooks do."""
    with path.open("rb") as file:
        return file.read(4) == b"PK\x03\x04"


def write_workbook(rows: Iterable[Sequence[Any]], out: IO[bytes], title: str) -> None:
    """Write rows as the only sheet of a workbook; text is text, whatever it begins with."""
    book = Workbook()
    sheet = book.active
    sheet.title = title
    for number, row in enumerate(rows, start=1):
        for column, value in enumerate(row, start=1):
            cell = sheet.cell(number, column, value)
            if isinstance(value, str):
                cell.data_type = _TEXT
    sheet.freeze_panes = "B2"
    book.save(out)


def _rows(path: Path) -> list[list[Any]]:
    try:
        _require_reasonable(path)
        with path.open("rb") as file:  # by its name openpyxl would refuse it
            book = load_workbook(file, read_only=True)
            rows = [_trimmed(list(_values(row, path))) for row in _cells(book, path)]
            book.close()
    except _UNREADABLE as error:
        raise _refused(path, "it is no workbook that can be read; save it as CSV") from error
    return rows


def _require_reasonable(path: Path) -> None:
    with zipfile.ZipFile(path) as parts:
        if sum(part.file_size for part in parts.infolist()) > MOST_UNPACKED_BYTES:
            raise _refused(path, f"unpacked it has more than {MOST_UNPACKED_BYTES:,} bytes")


def _cells(book: Any, path: Path) -> Iterator[tuple[Any, ...]]:
    rows = book.worksheets[0].iter_rows(max_row=MOST_ROWS + 1, max_col=MOST_COLUMNS)
    for number, row in enumerate(rows, start=1):
        if number > MOST_ROWS:
            raise _refused(path, f"its first sheet has more than {MOST_ROWS} rows")
        yield row


def _values(row: Iterable[Any], path: Path) -> Iterator[Any]:
    for cell in row:
        if cell.data_type == _FORMULA:
            wanted = f"cell {cell.coordinate} is a formula; put its value there"
            raise _refused(path, wanted)
        value = cell.value
        whole = isinstance(value, float) and value.is_integer()
        yield int(value) if whole else value


def _trimmed(values: list[Any]) -> list[Any]:
    """Return a row without the empty cells after its last value."""
    filled = [place for place, value in enumerate(values, start=1) if value is not None]
    return values[: max(filled, default=0)]


def _refused(path: Path, wanted: str) -> Invalid:
    return Invalid([Fault("file", path.name, wanted)])
