"""A short file taken in while it is waited for, answered row by row."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from sqlalchemy.orm import Session

from models.actions.actor import Actor
from models.actions.csv_chunks import Chunk
from models.actions.file_outcome import FileRefused, Outcome
from models.actions.import_reports import checked, is_longer, require_headings, take_in
from models.actions.row_faults import RowFault
from models.actions.workbook import as_csv
from service.problems import fault_told
from service.uploads import refused_rows

AT_ONCE = 500
"""Rows of a file that is taken in while it is waited for."""
MOST_BYTES = 1_000_000
"""Bytes of such a CSV file; as columns and words it takes many times the memory."""


def is_short(path: Path) -> bool:
    """Return whether a file is taken in while it is waited for; a longer one is left to a job.

    Raises
    ------
    Invalid
        Where it is larger than any job takes, or does not begin with the right headings.

    """
    with as_csv(path, most=AT_ONCE + 2) as beginning:
        require_headings(beginning)
        return beginning.stat().st_size <= MOST_BYTES and not is_longer(beginning, AT_ONCE)


def rows_of(path: Path) -> list[Chunk]:
    """Return the checked rows of a short file.

    Raises
    ------
    Invalid
        Where the file as a whole cannot be read.

    """
    with as_csv(path) as file:
        return list(checked(file))


def imported(
    session: Session, actor: Actor, chunks: Sequence[Chunk], asked: Mapping[str, bool]
) -> dict[str, Any]:
    """Take in rows, or only find out what would be done, and return what became of each.

    Raises
    ------
    Invalid
        Where rows are wrong, unless they are left out or nothing is to be done anyway.

    """
    refused = False
    try:
        outcome = take_in(
            session, actor, chunks, keep_good=asked["keep_good"], dry_run=asked["dry_run"]
        )
    except FileRefused as error:
        if not asked["dry_run"]:
            raise refused_rows(error) from error
        outcome, refused = error.outcome, True
    if asked["dry_run"]:
        session.rollback()
    return {
        "dry_run": asked["dry_run"],
        "taken": 0 if refused else outcome.used,
        "known": outcome.known,
        "left_out": outcome.left_out,
        "rows": _rows(chunks, outcome, "left out" if refused else "taken"),
    }


def _rows(chunks: Sequence[Chunk], outcome: Outcome, right: str) -> list[dict[str, Any]]:
    known, errors, doubts = set(outcome.known_rows), *map(_by_row, (outcome.faults, outcome.doubts))
    return [
        {
            "row": row,
            "state": "wrong" if bad else "known" if row in known else right,
            "errors": errors[row],
            "doubts": doubts[row],
        }
        for chunk in chunks
        for row, bad in zip(chunk.rows.tolist(), chunk.bad.tolist(), strict=True)
    ]


def _by_row(faults: Sequence[RowFault]) -> Mapping[int, list[dict[str, Any]]]:
    found: dict[int, list[dict[str, Any]]] = defaultdict(list)
    for one in faults:
        found[one.row].append(fault_told(one.fault.under(f"rows.{one.row}")))
    return found
