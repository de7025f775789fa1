"""A design's size table as a file: CSV or a workbook, by the rules of the files of reports."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import IO, Any

import numpy as np
from sqlalchemy.orm import Session

from models.actions.actor import Actor
from models.actions.csv_chunks import Chunk, read_chunks
from models.actions.csv_columns import as_typed
from models.actions.csv_layout import Layout
from models.actions.file_outcome import FileRefused, Outcome
from models.actions.sizes import numbers_of, sizes_of
from models.actions.spreadsheet import safe_cell
from models.actions.workbook import as_csv, write_workbook
from models.domain.errors import Fault, Invalid
from models.domain.roles import Action
from models.domain.sizes import (
    COLUMNS,
    LONGEST_LABEL,
    NUMBERS,
    OPTIONAL_NUMBERS,
    require_possible,
)
from models.tables.socks import Design

MOST_ROWS = 2_000
"""Rows of a size table."""

LAYOUT = Layout(
    numbers=NUMBERS,
    texts={"label": LONGEST_LABEL},
    optional_numbers=OPTIONAL_NUMBERS,
)


def read_sizes(path: Path) -> list[dict[str, Any]]:
    """Return the sizes of a table as `sizes.put_sizes` takes them in, all of them or nothing.

    It needs no database, so that nobody who writes waits for it.

    Raises
    ------
    Invalid
        Where the file as a whole cannot be read.
    FileRefused
        Where rows are wrong; every fault names its row and column.

    """
    outcome = Outcome()
    rows: list[dict[str, Any]] = []
    with as_csv(path, MOST_ROWS) as file:
        for chunk in read_chunks(file, LAYOUT, MOST_ROWS + 1):
            _require_few(len(rows) + len(chunk.bad))
            found = list(_sizes(chunk))
            _check(chunk, found, {size["label"] for size in rows})
            outcome.tally(chunk)
            rows += found
    if outcome.left_out:
        raise FileRefused(outcome)
    return rows


def export_rows(session: Session, actor: Actor, design: Design) -> Iterator[list[Any]]:
    """Yield the headings and rows of a design's size table, made safe for spreadsheets."""
    actor.require(Action.READ_GROUP)
    yield list(COLUMNS)
    for size in sizes_of(session, design):
        yield [_cell(value) for value in numbers_of(size).values()]


def export_csv(session: Session, actor: Actor, design: Design, out: IO[str]) -> None:
    """Write a design's size table as CSV."""
    csv.writer(out, lineterminator="\n").writerows(export_rows(session, actor, design))


def export_workbook(session: Session, actor: Actor, design: Design, out: IO[bytes]) -> None:
    """Write a design's size table as a workbook."""
    write_workbook({"sizes": export_rows(session, actor, design)}, out)


def _cell(value: Any) -> Any:
    return safe_cell(as_typed(value) if isinstance(value, float) else value)


def _require_few(rows: int) -> None:
    """Raise `Invalid` for a table that is longer than one may be."""
    if rows > MOST_ROWS:
        raise Invalid([Fault("file", rows, f"a size table has at most {MOST_ROWS} rows")])


def _sizes(chunk: Chunk) -> Iterator[dict[str, Any]]:
    """Yield every row as a size, in the order of the rows; what is wrong in it is None."""
    for index in range(len(chunk.bad)):
        numbers = {name: float(values[index]) for name, values in chunk.numbers.items()}
        yield {"label": chunk.texts["label"][index], **_typed(numbers)}


def _typed(numbers: Mapping[str, float]) -> dict[str, Any]:
    whole = {quantity.name for quantity in (*NUMBERS, *OPTIONAL_NUMBERS) if quantity.integer}
    finite = {name for name, value in numbers.items() if np.isfinite(value)}
    return {
        name: None if np.isnan(value) else int(value) if name in whole & finite else value
        for name, value in numbers.items()
    }


def _check(chunk: Chunk, sizes: list[dict[str, Any]], before: set[str]) -> None:
    """Note what cannot be in rows whose cells are all right, and labels that come twice."""
    seen = set(before)
    for index, size in enumerate(sizes):
        if chunk.bad[index]:
            continue
        if size["label"] in seen:
            chunk.add(index, Fault("label", size["label"], "another row is this size already"))
        seen.add(size["label"])
        try:
            require_possible(size)
        except Invalid as error:
            for fault in error.faults:
                chunk.add(index, fault)
