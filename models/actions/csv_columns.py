"""Checking a column at once: numbers within limits, texts that can be stored, days."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date, datetime

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.actions.csv_layout import Column
from models.actions.spreadsheet import read_cell
from models.domain.errors import Fault
from models.domain.plausibility import hinted
from models.domain.quantities import Quantity
from models.tables.base import now

Faults = Iterator[tuple[int, Fault]]

_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f\ud800-\udfff]")
_NUMBER = re.compile(r"[-+]?(\d+([.,]\d*)?|[.,]\d+)([eE][-+]?\d+)?")


def number_column(
    cells: pd.Series, column: Column, quantity: Quantity
) -> tuple[NDArray[np.float64], Faults]:
    """Return a column's numbers in the quantity's unit (NaN where empty), and what is wrong."""
    numbers = _numbers(cells)
    empty = cells.isna().to_numpy()
    values = numbers * column.factor if column.unit != "mm" else numbers
    wrong = ~empty & ~((values >= quantity.low) & (values <= quantity.high))
    if quantity.integer:
        wrong |= ~empty & (values != np.floor(values))
    if quantity.required:
        wrong |= empty
    return values, _number_faults(np.flatnonzero(wrong), cells, column, quantity)


def _numbers(cells: pd.Series) -> NDArray[np.float64]:
    """Return cells as floats; NaN where a cell is empty or no number."""
    if pd.api.types.is_bool_dtype(cells):
        return np.full(len(cells), np.nan)
    if pd.api.types.is_numeric_dtype(cells):
        return cells.to_numpy(dtype=float)
    return np.array([_number(cell) for cell in cells], dtype=float)


def _number(cell: object) -> float:
    """Return a cell as a number; a decimal comma counts as a point."""
    text = str(cell).strip()
    return float(text.replace(",", ".")) if _NUMBER.fullmatch(text) else float("nan")


def _number_faults(
    where: NDArray[np.intp], cells: pd.Series, column: Column, quantity: Quantity
) -> Faults:
    for index in where.tolist():
        cell = cells.iloc[index]
        given = None if pd.isna(cell) else _plain(cell)
        yield index, _number_fault(given, column, quantity)


def _number_fault(given: object, column: Column, quantity: Quantity) -> Fault:
    wanted = quantity.wanted
    if column.unit == "mm":
        return (
            hinted(Fault(quantity.name, given, wanted))
            if given is not None
            else Fault(quantity.name, None, wanted)
        )
    if isinstance(given, float):
        wanted += f"; {given:g} {column.unit} is {given * column.factor:.0f} mm"
    return Fault(column.heading, given, wanted)


def _plain(cell: object) -> object:
    """Return a cell as Python's own number where it is one, else as the text it was."""
    number = _number(cell)
    return str(cell) if np.isnan(number) else number


def text_column(
    cells: pd.Series, name: str, longest: int, *, required: bool
) -> tuple[NDArray[np.object_], Faults]:
    """Return a column's texts, trimmed (None where empty), and what is wrong."""
    present = cells.notna().to_numpy()
    texts = np.array([None] * len(cells), dtype=object)
    read = {cell: read_cell(cell.strip()) or None for cell in set(cells[present])}
    texts[present] = [read[cell] for cell in cells[present]]
    return texts, _text_faults(texts, name, longest, required=required)


def _text_faults(texts: NDArray[np.object_], name: str, longest: int, *, required: bool) -> Faults:
    wanted = f"text of 1 to {longest} characters"
    verdicts = {
        text: (required if text is None else len(text) > longest or bool(_CONTROL.search(text)))
        for text in set(texts)
    }
    if any(verdicts.values()):
        for index, text in enumerate(texts):
            if verdicts[text]:
                yield index, Fault(name, text, wanted)


def day_column(cells: pd.Series, name: str) -> tuple[NDArray[np.object_], Faults]:
    """Return a column's days (None where empty), and what is wrong."""
    read = {cell: _day(cell) for cell in set(cells[cells.notna()])}
    days = np.array([read.get(cell) for cell in cells], dtype=object)
    wrong = cells.notna().to_numpy() & (days == None)  # noqa: E711 - element by element
    wanted = "a day as YYYY-MM-DD, not in the future"
    return days, (
        (i, Fault(name, str(cells.iloc[i]), wanted)) for i in np.flatnonzero(wrong).tolist()
    )


def _day(cell: str) -> date | None:
    try:
        day = datetime.strptime(cell.strip(), "%Y-%m-%d").date()
    except ValueError:
        return None
    return day if (day - now().date()).days <= 1 else None
