"""Taking a file of reports in: all of it, or with `keep_good` the rows that are right.

CSV and workbooks go through one reader; reading needs no database, so that nobody who writes has
to wait for it.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlalchemy.orm import Session

from models.actions.actor import Actor
from models.actions.csv_chunks import Chunk, headings_of, read_chunks
from models.actions.csv_extent import count_lines
from models.actions.csv_layout import Layout, matched
from models.actions.file_names import FileNames
from models.actions.file_outcome import FileRefused, Outcome
from models.actions.kept_chunks import kept_chunks
from models.actions.known_reports import KnownReports
from models.actions.row_checks import check_rows
from models.actions.turns import take_turns
from models.actions.workbook import as_csv
from models.domain.errors import Fault
from models.domain.foot import MEASUREMENT_NAMES, MEASUREMENTS
from models.domain.quantities import DECREASES_PER_ROUND
from models.domain.report_columns import EXAMPLE_REPORTER
from models.domain.reports import AFTERWARDS, LONGEST, OPTIONAL_NUMBERS, SOCK
from models.domain.roles import Action
from models.tables.base import new_id, now
from models.tables.bulk import insert_columns
from models.tables.socks import Report

LAYOUT = Layout(
    numbers=(*MEASUREMENTS, *SOCK),
    texts={"reporter": LONGEST["reporter"]},
    optional_numbers=OPTIONAL_NUMBERS,
    optional_texts=tuple((name, LONGEST[name]) for name in ("design", "size", "notes")),
    optional_days=("knitted_on",),
)

_OF_TEMPLATE = Fault("reporter", EXAMPLE_REPORTER, "that is the invented row of the template")

Columns = dict[str, list[Any]]
Progress = Callable[[int], None]


def _unheard(_rows: int) -> None:
    """Tell nobody how many more rows are done."""


@contextmanager
def read_first(
    path: Path,
    *,
    out_of: Progress = _unheard,
    progress: Progress = _unheard,
    after_each: Callable[[], None] = lambda: None,
) -> Iterator[Iterable[Chunk]]:
    """Yield the checked rows of a CSV file or a workbook, all of which have been read.

    They wait on disk, so that whoever takes them in holds a lock for the inserts only, and memory
    for a few of them. `out_of` hears how many steps there are, reading a row and taking it in being
    two; `progress` of the steps as they are done. `after_each` is what `as_csv` calls.

    Raises
    ------
    Invalid
        Where the file as a whole cannot be read.

    """
    with kept_chunks() as kept:
        with as_csv(path, after_each=after_each) as file:
            out_of(2 * max(0, count_lines(file) - 1))
            for chunk in checked(file):
                kept.add(chunk)
                progress(len(chunk.bad))
        yield kept


def checked(path: Path) -> Iterator[Chunk]:
    """Yield the rows of a CSV file of reports, with what is wrong in them.

    Raises
    ------
    Invalid
        Where the file as a whole cannot be read.

    """
    for chunk in read_chunks(path, LAYOUT):
        check_rows(chunk)
        for index in np.flatnonzero(chunk.texts["reporter"] == EXAMPLE_REPORTER):
            chunk.doubt(int(index), _OF_TEMPLATE)
        yield chunk


def require_headings(path: Path) -> None:
    """Raise `Invalid` where the columns of a CSV file are not those of a file of reports."""
    matched(headings_of(path)[1], LAYOUT)


def is_longer(path: Path, rows: int) -> bool:
    """Return whether a CSV file has more rows of data than so many; blank ones do not count."""
    separator, _ = headings_of(path)
    with path.open(encoding="utf-8-sig", errors="replace", newline="") as file:
        filled = (any(map(str.strip, cells)) for cells in csv.reader(file, delimiter=separator))
        try:
            return next(islice(filter(None, filled), rows + 1, None), None) is not None
        except csv.Error:
            return True  # a cell longer than any may be: how many rows follow is not known


def take_in(
    session: Session,
    actor: Actor,
    chunks: Iterable[Chunk],
    *,
    keep_good: bool = False,
    dry_run: bool = False,
    progress: Progress = _unheard,
) -> Outcome:
    """Take in the reports of checked rows that the group does not have yet.

    A dry run only finds out which those are, in a transaction that must be undone: so it is short.

    Raises
    ------
    FileRefused
        Where rows are wrong and `keep_good` is not set; the transaction must be undone.

    """
    actor.require(Action.RECORD_FOR_OTHERS)
    take_turns(session, actor.group_id)
    names, known = FileNames(session, actor), KnownReports(session, actor.group_id)
    outcome = Outcome()
    for chunk in chunks:
        _require_own(chunk, names)
        _require_clear(chunk, names)
        outcome.tally(chunk)
        if keep_good or not outcome.left_out:
            written = _write(session, actor, chunk, names, known, insert=not dry_run)
            outcome.known_rows += written
        progress(len(chunk.bad))
    if outcome.left_out and not keep_good:
        raise FileRefused(outcome)
    outcome.used -= outcome.known
    return outcome


def _require_own(chunk: Chunk, names: FileNames) -> None:
    """Note the rows of members for whom nobody else may record."""
    reporters = chunk.texts["reporter"]
    others = names.of_others([name for name in reporters if name is not None])
    for index in np.flatnonzero([name in others for name in reporters] if others else []):
        wanted = "has joined the group and records without help: leave the row out"
        chunk.add(int(index), Fault("reporter", reporters[index], wanted))


def _require_clear(chunk: Chunk, names: FileNames) -> None:
    """Note the rows whose reporter may be more than one, or is new and looks like another."""
    reporters = chunk.texts["reporter"]
    odd = names.unclear([name for name in reporters[~chunk.bad].tolist() if name is not None])
    for index in np.flatnonzero([name in odd for name in reporters] if odd else []):
        chunk.add(int(index), odd[reporters[index]])


def _write(
    session: Session,
    actor: Actor,
    chunk: Chunk,
    names: FileNames,
    known: KnownReports,
    *,
    insert: bool,
) -> list[int]:
    """Insert the good rows of a chunk that are new, and return the numbers of those known."""
    good = ~chunk.bad
    members = names.members(chunk.texts["reporter"][good].tolist())
    measurements: Columns = {
        name: _optional(chunk.numbers[name][good]) for name in MEASUREMENT_NAMES
    }
    sock = _sock(chunk, good) | _designs(chunk, good, names)
    new = known.new(members, [*measurements.values(), *sock.values()])
    known_rows: list[int] = chunk.rows[good][~new].tolist()
    count = int(new.sum())
    if not count or not insert:
        return known_rows
    columns: Columns = {"member_id": members, **measurements, **sock, **_afterwards(chunk, good)}
    if known_rows:
        columns = {name: _picked(values, new) for name, values in columns.items()}
    measured = [columns.pop(name) for name in MEASUREMENT_NAMES]
    feet = names.feet(list(zip(columns["member_id"], *measured, strict=True)))
    insert_columns(
        session.connection(),
        Report.__table__,
        {
            **_said(columns),
            "foot_id": feet,
            "consent_version": names.consents(columns["member_id"]),
            **_same(actor, count),
        },
    )
    return known_rows


def _sock(chunk: Chunk, good: NDArray[np.bool_]) -> Columns:
    """Return the sock's part of `known_reports.CONTENT`, in its order, as Python's own values."""
    columns: Columns = {}
    for quantity in (*SOCK, DECREASES_PER_ROUND):
        values = chunk.numbers[quantity.name][good]
        columns[quantity.name] = (values.astype(int) if quantity.integer else values).tolist()
    return columns | {name: _texts(chunk, name, good) for name in ("knitted_on", "notes")}


def _afterwards(chunk: Chunk, good: NDArray[np.bool_]) -> Columns:
    return {
        quantity.name: [
            None if cell is None else int(cell)
            for cell in _optional(chunk.numbers[quantity.name][good])
        ]
        for quantity in AFTERWARDS
        if quantity.name in chunk.numbers
    }


def _designs(chunk: Chunk, good: NDArray[np.bool_], names: FileNames) -> Columns:
    if "design" not in chunk.texts:
        return dict.fromkeys(("design_id", "size_id"), [None] * int(good.sum()))
    pairs = zip(_texts(chunk, "design", good), _texts(chunk, "size", good), strict=True)
    design_ids, size_ids = names.designs(list(pairs))
    return {"design_id": design_ids, "size_id": size_ids}


def _same(actor: Actor, count: int) -> Columns:
    """Return the columns that are new or the same for every row."""
    moment = [now()] * count
    return {
        "id": [new_id() for _ in range(count)],
        "group_id": [actor.group_id] * count,
        "version": [1] * count,
        "created_at": moment,
        "updated_at": moment,
    }


def _said(columns: Columns) -> Columns:
    """Return the columns in which anything is said; what is not inserted is empty."""
    return {n: values for n, values in columns.items() if any(v is not None for v in values)}


def _picked(values: list[Any], rows: NDArray[np.bool_]) -> list[Any]:
    return [value for value, wanted in zip(values, rows, strict=True) if wanted]


def _optional(values: NDArray[np.float64]) -> list[float | None]:
    return [None if value != value else value for value in values.tolist()]  # noqa: PLR0124 - NaN


def _texts(chunk: Chunk, name: str, good: NDArray[np.bool_]) -> list[Any]:
    return list(chunk.texts[name][good]) if name in chunk.texts else [None] * int(good.sum())
