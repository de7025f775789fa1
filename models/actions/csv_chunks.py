"""Reading a CSV file in pieces, whatever the spreadsheet did to it.

A byte order mark, CRLF, tabs or semicolons between the columns and decimal commas are taken as
they come; what cannot be read is named by row and column.
"""

from __future__ import annotations

import csv
import warnings
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from models.actions.csv_columns import Wrong, day_column, number_column, text_column
from models.actions.csv_extent import fitting_rows
from models.actions.csv_layout import Column, Layout, matched
from models.actions.row_faults import MOST_TOLD, FirstFaults, RowFault
from models.domain.errors import Fault, Invalid

if TYPE_CHECKING:
    import pandas as pd

ROWS_AT_ONCE = 10_000

FIRST_ROW = 2
"""Number of the first row of data as a spreadsheet shows it: the headings are row 1."""


@dataclass
class Chunk:
    """Some rows of a file as columns; `bad` marks the rows that `faults` are about.

    `rows` numbers them as a spreadsheet does: blank ones, which are left out, count.
    """

    rows: NDArray[np.int64]
    numbers: dict[str, NDArray[np.float64]]
    texts: dict[str, NDArray[np.object_]]
    bad: NDArray[np.bool_]
    faults: FirstFaults = field(default_factory=FirstFaults)
    doubts: FirstFaults = field(default_factory=FirstFaults)

    def add(self, index: int, fault: Fault) -> None:
        """Note what is wrong in the row at a position."""
        self.bad[index] = True
        self.faults.add(RowFault(int(self.rows[index]), fault))

    def add_all(self, wrong: Wrong) -> None:
        """Note what is wrong in a column, in words only as far as it may be shown."""
        self.bad[wrong.where] = True
        for index in wrong.where[:MOST_TOLD].tolist():
            self.add(index, wrong.fault(index))
        self.faults.in_all += len(wrong.where[MOST_TOLD:])

    def doubt(self, index: int, fault: Fault) -> None:
        """Note what is unusual in the row at a position, which can be used all the same."""
        self.doubts.add(RowFault(int(self.rows[index]), fault))


def read_chunks(path: Path, layout: Layout, rows_at_once: int = ROWS_AT_ONCE) -> Iterator[Chunk]:
    """Yield the rows of a file, checked cell by cell against the layout; long ones fewer at once.

    Raises
    ------
    Invalid
        Where the file as a whole cannot be read: empty, not UTF-8, wrong columns, ragged rows, a
        row longer than any may be.

    """
    separator, headings = headings_of(path)
    columns = matched(headings, layout)
    texts = [c.heading for c in columns.values() if c.name in layout.text_names]
    first_row, empty = FIRST_ROW, True
    try:
        with _frames(path, separator, headings, texts, rows_at_once) as frames:
            for frame in frames:
                kept = ~_blank(frame)
                if kept.any():
                    empty = False
                    rows = first_row + np.flatnonzero(kept)
                    yield _checked(frame[kept], columns, layout, rows)
                first_row += len(frame)
    except UnicodeDecodeError as error:
        raise Invalid([_not_utf8(path)]) from error
    if empty:
        raise Invalid([Fault("file", path.name, "it has headings but no rows")])


@contextmanager
def _frames(
    path: Path, separator: str, headings: list[str], texts: list[str], rows_at_once: int
) -> Iterator[Iterator[pd.DataFrame]]:
    """Open a file as pieces of so many rows; what pandas would only warn of is an error."""
    # Here, for a server starts without pandas: most never read a file, and it takes long to load.
    import pandas as pd  # noqa: PLC0415

    with warnings.catch_warnings():
        warnings.simplefilter("error", pd.errors.ParserWarning)
        try:
            with pd.read_csv(
                path,
                sep=separator,
                decimal="," if separator == ";" else ".",
                encoding="utf-8-sig",
                dtype=dict.fromkeys(texts, "object"),
                keep_default_na=False,
                na_values=[""],
                index_col=False,
                skip_blank_lines=False,
                low_memory=False,
                chunksize=fitting_rows(path, separator, rows_at_once),
            ) as frames:
                yield frames
        except (pd.errors.ParserError, pd.errors.ParserWarning) as error:
            raise Invalid(_ragged(path, separator, len(headings))) from error


def headings_of(path: Path) -> tuple[str, list[str]]:
    """Return the separator of a file and its headings.

    Raises
    ------
    Invalid
        Where it is empty or no text.

    """
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            line = file.readline(100_000)
    except UnicodeDecodeError as error:
        raise Invalid([_not_utf8(path)]) from error
    if not line.strip():
        raise Invalid([Fault("file", path.name, "it is empty; the first row must be headings")])
    if "\0" in line:
        raise Invalid([_not_utf8(path)])
    separator = max(",;\t", key=line.count)
    return separator, next(csv.reader([line], delimiter=separator))


def _checked(
    frame: pd.DataFrame, columns: dict[str, Column], layout: Layout, rows: NDArray[np.int64]
) -> Chunk:
    chunk = Chunk(rows, {}, {}, np.zeros(len(frame), dtype=bool))
    optional = (replace(quantity, required=False) for quantity in layout.optional_numbers)
    for quantity in (*layout.numbers, *optional):
        if quantity.name in columns:
            column = columns[quantity.name]
            values, wrong = number_column(frame[column.heading], column, quantity)
            chunk.numbers[quantity.name] = values
            chunk.add_all(wrong)
        elif quantity in layout.numbers:
            chunk.numbers[quantity.name] = np.full(len(frame), np.nan)
    for name, longest in (*layout.texts.items(), *layout.optional_texts):
        if name in columns:
            texts, wrong = text_column(
                frame[columns[name].heading], name, longest, required=name in layout.texts
            )
            chunk.texts[name] = texts
            chunk.add_all(wrong)
    for name in layout.optional_days:
        if name in columns:
            days, wrong = day_column(frame[columns[name].heading], name)
            chunk.texts[name] = days
            chunk.add_all(wrong)
    return chunk


def _blank(frame: pd.DataFrame) -> NDArray[np.bool_]:
    """Mark rows with nothing in any cell, as spreadsheets leave them between and after others."""
    blank = frame.iloc[:, 1:].isna().all(axis=1).to_numpy(copy=True)
    first = frame.iloc[:, 0][blank]
    blank[blank] = first.isna() | (first.astype(str).str.strip() == "")
    return blank


def _ragged(path: Path, separator: str, headings: int) -> list[Fault]:
    """Return what keeps a file from being a table, found by reading it again row by row."""
    rows = islice(_longer_rows(path, separator, headings), MOST_TOLD)
    wanted = f"there are {headings} headings; put quotation marks around text with separators"
    told = [f"row {row} has {cells} cells and {wanted}" for row, cells in rows]
    open_text = "a quotation mark begins a cell and no other ends it"
    return [Fault("file", path.name, wrong) for wrong in told or [open_text]]


def _longer_rows(path: Path, separator: str, headings: int) -> Iterator[tuple[int, int]]:
    """Yield number and cells of the rows that have more cells than there are headings."""
    with path.open(encoding="utf-8-sig", errors="replace", newline="") as file, suppress(csv.Error):
        for number, cells in enumerate(csv.reader(file, delimiter=separator), start=1):
            if len(cells) > headings:
                yield number, len(cells)


def _not_utf8(path: Path) -> Fault:
    return Fault("file", path.name, "it is not UTF-8; save it as CSV in UTF-8")
