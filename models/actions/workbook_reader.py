"""The program that reads one workbook: run as a process of its own, with limits, and then gone.

A workbook of some kilobytes can ask for any amount of memory and time, and the library that reads
it lays a sheet out whole and ends the process where memory ends. So nothing else is in this
process: it imports nothing of ours, writes the first sheet as CSV, and says by its exit code what
came of it. `models.actions.workbook` starts it and puts the code into words.
"""

from __future__ import annotations

import csv
import errno
import sys
from collections.abc import Iterator
from datetime import datetime, time
from pathlib import Path
from typing import Any

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
            with Path(target).open("w", encoding="utf-8", newline="") as out:
                csv.writer(out, lineterminator="\n").writerows(_rows(sheet, int(most)))
    except MemoryError:
        return TOO_MUCH
    except (CalamineError, OSError, ValueError, IndexError) as error:
        if isinstance(error, OSError) and error.errno == errno.EFBIG:
            return TOO_MUCH
        return NO_WORKBOOK
    return READ


def _limit(memory: int, seconds: int, written: int) -> None:
    if resource is not None:
        resource.setrlimit(resource.RLIMIT_AS, (memory, memory))
        resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))
        resource.setrlimit(resource.RLIMIT_FSIZE, (written, written))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _rows(sheet: Any, most: int) -> Iterator[list[Any]]:
    """Yield rows as they are numbered in the sheet; after `most` that are not blank no more."""
    if sheet.start is None:
        return
    before, filled = [""] * sheet.start[1], 0
    for row in sheet.iter_rows():
        values = _trimmed([*before, *map(_plain, row)])
        filled += bool(values)
        if filled > most:
            return
        yield values


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
