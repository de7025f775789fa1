"""Checking a column at once: numbers within limits, texts that can be stored, days."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from models.actions.csv_layout import Column
from models.actions.feet import not_in_future
from models.actions.spreadsheet import read_cell
from models.actions.workbook_reader import UNSAVED
from models.domain.errors import Fault, Invalid
from models.domain.plausibility import hinted
from models.domain.quantities import Quantity
from models.domain.texts import stored_text, wanted_text

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Wrong:
    """Where the cells of a column are wrong, in the order of the rows, and how to say so."""

    where: NDArray[np.intp]
    fault: Callable[[int], Fault]


_EXACT = 2**53
"""Below it every whole number is a float."""

_OF_SEVERAL_LINES = frozenset({"notes"})
_MM_DECIMALS = 6
_THOUSANDS = re.compile(r"[-+]?\d{1,3},\d{3}")
_NUMBER = re.compile(r"[-+]?(\d+([.,]\d*)?|[.,]\d+)([eE][-+]?\d+)?")


def number_column(
    cells: pd.Series, column: Column, quantity: Quantity
) -> tuple[NDArray[np.float64], Wrong]:
    """Return a column's numbers in the quantity's unit (NaN where empty), and what is wrong."""
    numbers = _numbers(cells)
    empty = _empty(cells)
    values = numbers if column.unit == "mm" else np.round(numbers * column.factor, _MM_DECIMALS)
    wrong = ~empty & ~((values >= quantity.low) & (values <= quantity.high))
    if quantity.integer:
        wrong |= ~empty & (values != np.floor(values))
    if quantity.required:
        wrong |= empty
    return values, Wrong(np.flatnonzero(wrong), partial(_number_fault, cells, column, quantity))


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


def _empty(cells: pd.Series) -> NDArray[np.bool_]:
    """Mark cells that hold nothing, or a formula whose value is not known."""
    return (cells.isna() | (cells == UNSAVED)).to_numpy()


def _number_fault(cells: pd.Series, column: Column, quantity: Quantity, index: int) -> Fault:
    cell = cells.iat[index]
    given = None if isinstance(cell, float) and math.isnan(cell) else _plain(cell)
    if column.unit == "mm":
        return hinted(Fault(quantity.name, given, quantity.wanted))
    return Fault(column.heading, given, _in_its_unit(quantity, column).wanted)


def _in_its_unit(length: Quantity, column: Column) -> Quantity:
    """Return a length in the unit of its column, limits to a tenth and within what can be."""
    low, high = (10 * limit / column.factor for limit in (length.low, length.high))
    return replace(length, low=math.ceil(low) / 10, high=math.floor(high) / 10, unit=column.unit)


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
) -> tuple[NDArray[np.object_], Wrong]:
    """Return a column's texts as they are stored (None where empty), and what is wrong."""
    lines = name in _OF_SEVERAL_LINES
    present = ~_empty(cells)
    given = cells.to_numpy()[present]
    read = {cell: read_cell(cell.strip()) for cell in set(given)}
    stored = {cell: stored_text(text, longest, lines=lines) for cell, text in read.items()}
    texts = np.full(len(cells), None, dtype=object)
    texts[present] = [stored[cell] for cell in given]
    wrong = {cell for cell, text in stored.items() if text is None and (read[cell] or required)}
    where = (~present & required) | (cells.isin(wrong).to_numpy() if wrong else False)
    wanted = wanted_text(longest, lines=lines)

    def fault(index: int) -> Fault:
        cell = cells.iat[index]
        return Fault(name, cell if isinstance(cell, str) else None, wanted)

    return texts, Wrong(np.flatnonzero(where), fault)


def day_column(cells: pd.Series, name: str) -> tuple[NDArray[np.object_], Wrong]:
    """Return a column's days (None where empty), and what is wrong."""
    read = {cell: _day(cell, name) for cell in set(cells[~_empty(cells)])}
    faults = {cell: day for cell, day in read.items() if isinstance(day, Fault)}
    days = np.array([None if cell in faults else read.get(cell) for cell in cells], dtype=object)
    where = np.flatnonzero(cells.isin(faults))
    return days, Wrong(where, lambda index: faults[cells.iat[index]])


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
