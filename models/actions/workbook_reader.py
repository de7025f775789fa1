"""The program that reads one workbook: run as a process of its own, with limits, and then gone.

A workbook of some kilobytes can ask for any amount of memory and time, and the library that reads
it lays a sheet out whole and ends the process where memory ends. So nothing else is in this
process: it imports nothing of ours, writes the first sheet as CSV, and says by its exit code what
came of it. `models.actions.workbook` starts it and puts the code into words.
"""

from __future__ import annotations

import csv
import errno
import re
import sys
import zipfile
from collections import defaultdict
from collections.abc import Iterator
from datetime import datetime, time
from itertools import chain, repeat
from pathlib import Path
from posixpath import join, normpath
from typing import IO, Any
from xml.etree.ElementTree import Element, ParseError, iterparse, parse

try:
    import resource
except ImportError:  # Windows has no such limits: there the clock of whoever started it is all
    resource = None  # type: ignore[assignment]

READ, NO_WORKBOOK, TOO_MANY_ROWS, TOO_MUCH, TOO_MANY_COLUMNS = 0, 3, 4, 5, 6
"""What the exit code says; one that the system gives means that a limit ended it."""

MOST_COLUMNS = 100
BYTES_OF_A_ROW = 2_000
"""Of CSV, on average over as many rows as a sheet may have: one text that many cells share takes
little room in a workbook, and whoever asked has to read all of the CSV."""

UNSAVED = "formula without a saved value"
"""What the CSV has for such a formula of an XLSX file; the library has an empty cell."""

_ARCHIVE, _BOOK = b"PK\x03\x04", "xl/workbook.xml"
_PIECE, _LONGEST_MARK = 1 << 20, 16
_FORMULA_OR_ERROR = re.compile(rb"""<(?:\w+:)?f[\s/>]|\st=["']e["']""")
_COORDINATE = re.compile("([A-Z]{1,3})[0-9]{1,7}")

Marks = dict[int, dict[int, str]]
"""Texts of cells by row and column, both counted from 0."""


def main(source: str, target: str, rows: str, most: str, memory: str, seconds: str) -> int:
    """Write the first sheet of a workbook as CSV, and return the exit code.

    A sheet of more than `rows` is refused; of a longer one than `most`, the rest is left out.
    """
    # Here, so that whoever wants to know the exit codes does not load it.
    from python_calamine import CalamineError, CalamineWorkbook  # noqa: PLC0415

    written = int(rows) * BYTES_OF_A_ROW
    _limit(int(memory), int(seconds), written)
    try:
        with Path(source).open("rb") as file:
            book = CalamineWorkbook.from_filelike(file)
            sheet = book.get_sheet_by_index(0)
            last_row, last_column = sheet.end or (-1, -1)
            if last_row >= int(rows):
                return TOO_MANY_ROWS
            if last_column >= MOST_COLUMNS:  # one far cell makes every row as wide
                return TOO_MANY_COLUMNS
            marks = _marks(file, int(rows))
            with Path(target).open("w", encoding="utf-8", newline="") as out:
                csv.writer(out, lineterminator="\n").writerows(_rows(sheet, marks, int(most)))
    except MemoryError:
        return TOO_MUCH
    except OSError as error:
        return TOO_MUCH if error.errno == errno.EFBIG else NO_WORKBOOK
    except (CalamineError, zipfile.BadZipFile, ParseError, ValueError, LookupError):
        return NO_WORKBOOK
    return READ


def _limit(memory: int, seconds: int, written: int) -> None:
    if resource is not None:
        resource.setrlimit(resource.RLIMIT_AS, (memory, memory))
        resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))
        resource.setrlimit(resource.RLIMIT_FSIZE, (written, written))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _rows(sheet: Any, marks: Marks, most: int) -> Iterator[list[Any]]:
    """Yield rows as they are numbered in the sheet; after `most` that are not blank no more."""
    before, filled = [""] * (sheet.start or (0, 0))[1], 0
    below: Iterator[list[Any]] = repeat([], max(marks, default=-1) - (sheet.end or (-1, -1))[0])
    rows = ([*before, *map(_plain, row)] for row in sheet.iter_rows())
    for number, row in enumerate(chain(rows, below)):
        values = _trimmed(_marked([*row], marks.get(number, {})))
        filled += bool(values)
        if filled > most:
            return
        yield values


def _marked(values: list[Any], marks: dict[int, str]) -> list[Any]:
    for column, text in marks.items():
        values += [""] * (column + 1 - len(values))
        values[column] = text
    return values


def _marks(file: IO[bytes], rows: int) -> Marks:
    """Return the errors of an XLSX file's first sheet, and its formulas without a saved value.

    The library returns both as empty cells, which would read as measurements that nobody took.
    """
    marks: Marks = defaultdict(dict)
    file.seek(0)
    if file.read(len(_ARCHIVE)) != _ARCHIVE:
        return marks
    with zipfile.ZipFile(file) as parts:
        if _BOOK not in parts.namelist():
            return marks
        name = _first_sheet(parts)
        with parts.open(name) as part:
            if not _has_formula_or_error(part):
                return marks
        with parts.open(name) as part:
            for row, column, cell in _cells(part):
                text = _mark(cell)
                if text and 0 <= row < rows and column < MOST_COLUMNS:
                    marks[row][column] = text
    return marks


def _first_sheet(parts: zipfile.ZipFile) -> str:
    """Return the name of the part that holds the first sheet."""
    with parts.open(_BOOK) as book, parts.open("xl/_rels/workbook.xml.rels") as related:
        # The limits of this process hold for entities that grow as well.
        sheet = next(one for one in parse(book).iter() if _name(one) == "sheet")  # noqa: S314
        links = parse(related).iter()  # noqa: S314
        targets = {one.get("Id"): one.get("Target", "") for one in links}
    ids = [text for key, text in sheet.items() if key.rpartition("}")[2] == "id"]
    return normpath(join("/xl", targets[ids[0]])).lstrip("/")


def _has_formula_or_error(part: IO[bytes]) -> bool:
    """Return whether it may have one: that is found out much quicker than where."""
    end = b""
    while piece := part.read(_PIECE):
        if _FORMULA_OR_ERROR.search(end + piece):
            return True
        end = piece[-_LONGEST_MARK:]
    return False


def _cells(part: IO[bytes]) -> Iterator[tuple[int, int, Element]]:
    """Yield the cells of a sheet with their rows and columns, one row in memory at a time."""
    row, column = -1, -1
    for event, element in iterparse(part, ("start", "end")):  # noqa: S314
        name = _name(element)
        if (event, name) == ("start", "row"):
            row, column = int(element.get("r", row + 2)) - 1, -1
        elif (event, name) == ("end", "c"):
            column = _column(element.get("r"), column + 1)
            yield row, column, element
        elif (event, name) == ("end", "row"):
            element.clear()


def _column(coordinate: str | None, following: int) -> int:
    """Return the column of a cell, counted from 0; without a coordinate it follows the last one.

    >>> _column("A1", 7), _column("AB3", 7), _column(None, 7)
    (0, 27, 7)
    """
    found = _COORDINATE.fullmatch(coordinate or "")
    if found is None:
        return following
    number = 0
    for letter in found[1]:
        number = 26 * number + ord(letter) - ord("A") + 1
    return number - 1


def _mark(cell: Element) -> str:
    """Return the error of a cell, or that its formula has no value; nothing for other cells."""
    inside = {_name(one): one.text or "" for one in cell}
    if cell.get("t") == "e":
        return inside.get("v", "")
    return UNSAVED if "f" in inside and not inside.get("v") and cell.get("t") != "str" else ""


def _name(element: Element) -> str:
    return element.tag.rpartition("}")[2]


def _plain(value: Any) -> Any:
    """Return a cell's value as CSV would have it: whole numbers and days without empty parts."""
    if isinstance(value, float) and value.is_integer():
        return int(value)
    if isinstance(value, datetime) and value.time() == time():
        return value.date()
    return value


def _trimmed(values: list[Any]) -> list[Any]:
    """Return a row without the empty cells after its last value."""
    filled = [place for place, value in enumerate(values, start=1) if value != ""]
    return values[: max(filled, default=0)]


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
