"""Checking a column at once: numbers within limits, texts that can be stored, days."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date, datetime
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from models.actions.csv_layout import Column
from models.actions.feet import not_in_future
from models.actions.spreadsheet import read_cell
from models.domain.errors import Fault, Invalid
from models.domain.plausibility import hinted
from models.domain.quantities import Quantity
from models.domain.texts import stored_text, wanted_text

if TYPE_CHECKING:
    import pandas as pd

Faults = Iterator[tuple[int, Fault]]

_EXACT = 2**53
"""Below it every whole number is a float."""

_OF_SEVERAL_LINES = frozenset({"notes"})
_MM_DECIMALS = 6
_THOUSANDS = re.compile(r"[-+]?\d{1,3},\d{3}")
_NUMBER = re.compile(r"[-+]?(\d+([.,]\d*)?|[.,]\d+)([eE][-+]?\d+)?")


def number_column(
    cells: pd.Series, column: Column, quantity: Quantity
) -> tuple[NDArray[np.float64], Faults]:
    """Return a column's numbers in the quantity's unit (NaN where empty), and what is wrong."""
    numbers = _numbers(cells)
    empty = cells.isna().to_numpy()
    values = numbers if column.unit == "mm" else np.round(numbers * column.factor, _MM_DECIMALS)
    wrong = ~empty & ~((values >= quantity.low) & (values <= quantity.high))
    if quantity.integer:
        wrong |= ~empty & (values != np.floor(values))
    if quantity.required:
        wrong |= empty
    return values, _number_faults(np.flatnonzero(wrong), cells, column, quantity)


def _numbers(cells: pd.Series) -> NDArray[np.float64]:
    """Return cells as floats; NaN where a cell is empty or no number."""
    if cells.dtype.kind == "b":
        return np.full(len(cells), np.nan)
    if cells.dtype.kind in "iuf":
        return cells.to_numpy(dtype=float)
    return np.array([_number(cell) for cell in cells], dtype=float)


def _number(cell: object) -> float:
    """Return a cell as a number; a decimal comma counts as a point, one before thousands as none.

    "1,238" may be either, so it is no number here: whoever wrote it is asked.
    """
    text = str(cell).strip()
    if not _NUMBER.fullmatch(text) or _THOUSANDS.fullmatch(text):
        return float("nan")
    return float(text.replace(",", "."))


def _number_faults(
    where: NDArray[np.intp], cells: pd.Series, column: Column, quantity: Quantity
) -> Faults:
    wanted = quantity.wanted
    missing = Fault(quantity.name if column.unit == "mm" else column.heading, None, wanted)
    given, empty = cells.to_numpy(dtype=object), cells.isna().to_numpy()
    for index in where.tolist():
        if empty[index]:
            yield index, missing
        else:
            yield index, _number_fault(_plain(given[index]), column, missing)


def _number_fault(given: object, column: Column, missing: Fault) -> Fault:
    wanted = missing.wanted
    if column.unit == "mm":
        return hinted(Fault(missing.field, given, wanted))
    if isinstance(given, (int, float)):
        wanted += f"; {given:g} {column.unit} is {given * column.factor:.0f} mm"
    return Fault(column.heading, given, wanted)


def _plain(cell: object) -> object:
    """Return a cell as Python's own number where it is one, else as the text it was."""
    number = _number(cell)
    if np.isnan(number):
        return str(cell)
    return as_typed(number)


def as_typed(number: float) -> float:
    """Return a number as people type it.

    >>> as_typed(98.0), as_typed(24.5)
    (98, 24.5)
    """
    return int(number) if number.is_integer() and abs(number) < _EXACT else number


def text_column(
    cells: pd.Series, name: str, longest: int, *, required: bool
) -> tuple[NDArray[np.object_], Faults]:
    """Return a column's texts as they are stored (None where empty), and what is wrong."""
    lines = name in _OF_SEVERAL_LINES
    present = cells.notna().to_numpy()
    read = {cell: read_cell(cell.strip()) for cell in set(cells[present])}
    stored = {cell: stored_text(text, longest, lines=lines) for cell, text in read.items()}
    texts = np.array([None] * len(cells), dtype=object)
    texts[present] = [stored[cell] for cell in cells[present]]
    wrong = {cell for cell, text in stored.items() if text is None and (read[cell] or required)}
    wanted = wanted_text(longest, lines=lines)
    return texts, _text_faults(cells, present, wrong, Fault(name, None, wanted), required=required)


def _text_faults(
    cells: pd.Series,
    present: NDArray[np.bool_],
    wrong: set[str],
    missing: Fault,
    *,
    required: bool,
) -> Faults:
    if not wrong and (present.all() or not required):
        return
    for index, cell in enumerate(cells):
        if not present[index]:
            if required:
                yield index, missing
        elif cell in wrong:
            yield index, Fault(missing.field, cell, missing.wanted)


def day_column(cells: pd.Series, name: str) -> tuple[NDArray[np.object_], Faults]:
    """Return a column's days (None where empty), and what is wrong."""
    present = cells.notna().to_numpy()
    read = {cell: _day(cell, name) for cell in set(cells[present])}
    found = [read.get(cell) for cell in cells]
    days = np.array([None if isinstance(day, Fault) else day for day in found], dtype=object)
    return days, ((i, day) for i, day in enumerate(found) if isinstance(day, Fault))


def _day(cell: str, name: str) -> date | Fault:
    """Return a cell as a day, or what is wrong with it."""
    try:
        day = datetime.strptime(cell.strip(), "%Y-%m-%d").date()
        not_in_future(name, day)
    except ValueError:
        return Fault(name, cell, "a day as YYYY-MM-DD")
    except Invalid as error:
        return error.faults[0]
    return day
