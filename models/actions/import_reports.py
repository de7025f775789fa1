"""Taking a file of reports in: all of it, or with `keep_good` the rows that are right."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import select
from sqlalchemy.orm import Session

from models.actions import designs
from models.actions.actor import Actor
from models.actions.csv_chunks import Chunk, RowFault, read_chunks
from models.actions.csv_layout import Layout
from models.actions.groups import reporters
from models.actions.row_checks import check_rows
from models.domain.foot import MEASUREMENT_NAMES, MEASUREMENTS
from models.domain.quantities import DECREASES_PER_ROUND
from models.domain.reports import AFTERWARDS, LONGEST, OPTIONAL_NUMBERS, SOCK
from models.domain.roles import Action
from models.tables.base import new_id, now
from models.tables.bulk import insert_columns
from models.tables.socks import Foot, Import, Report

LAYOUT = Layout(
    numbers=(*MEASUREMENTS, *SOCK),
    texts={"reporter": LONGEST["reporter"]},
    optional_numbers=OPTIONAL_NUMBERS,
    optional_texts=tuple((name, LONGEST[name]) for name in ("design", "size", "notes")),
    optional_days=("knitted_on",),
)

MOST_FAULTS = 1000
"""Faults that are kept to be shown; more are only counted."""

_INTEGERS = (*(q.name for q in SOCK if q.integer), DECREASES_PER_ROUND.name)


@dataclass
class Outcome:
    """What became of a file: rows taken and left out, and why."""

    taken: int = 0
    left_out: int = 0
    faults: list[RowFault] = field(default_factory=list)
    faults_in_all: int = 0
    known_already: bool = False

    def tally(self, chunk: Chunk) -> None:
        """Count the rows of a chunk and keep its faults, in the order of the rows."""
        self.left_out += int(chunk.bad.sum())
        self.taken += int((~chunk.bad).sum())
        self.faults_in_all += len(chunk.faults)
        room = MOST_FAULTS - len(self.faults)
        self.faults += sorted(chunk.faults, key=lambda fault: fault.row)[:room]


class ImportRefused(Exception):
    """Some rows are wrong and nothing was to be taken in without them."""

    def __init__(self, outcome: Outcome) -> None:
        super().__init__(f"{outcome.faults_in_all} faults in {outcome.left_out} rows")
        self.outcome = outcome


def import_reports(
    session: Session,
    actor: Actor,
    path: Path,
    *,
    keep_good: bool = False,
    progress: Callable[[int], None] = lambda _rows: None,
) -> Outcome:
    """Take in the reports of a CSV file; a file that was taken in before changes nothing.

    Raises
    ------
    Invalid
        Where the file as a whole cannot be read.
    ImportRefused
        Where rows are wrong and `keep_good` is not set; the transaction must be undone.

    """
    actor.require(Action.RECORD_FOR_OTHERS)
    with path.open("rb") as file:
        digest = hashlib.file_digest(file, "sha256").hexdigest()
    outcome = Outcome()
    if _known(session, actor, digest):
        outcome.known_already = True
        return outcome
    names = _Names(session, actor)
    for chunk in read_chunks(path, LAYOUT):
        check_rows(chunk)
        outcome.tally(chunk)
        if keep_good or not outcome.left_out:
            _write(session, actor, chunk, names)
        progress(len(chunk.bad))
    if outcome.left_out and not keep_good:
        raise ImportRefused(outcome)
    session.add(Import(group_id=actor.group_id, sha256=digest, rows=outcome.taken))
    session.flush()
    return outcome


def _known(session: Session, actor: Actor, digest: str) -> bool:
    query = select(Import.id).where(Import.group_id == actor.group_id, Import.sha256 == digest)
    return session.scalar(query) is not None


_Measured = tuple[Any, ...]
"""A member id and that member's measurements, in the order of the registry."""


class _Names:
    """Ids of reporters, feet, designs and sizes, looked up or made once each."""

    def __init__(self, session: Session, actor: Actor) -> None:
        self._session, self._actor = session, actor
        self._members: dict[str, str] = {}
        self._feet: dict[_Measured, str] = {}
        self._designs: dict[tuple[str | None, str | None], tuple[str | None, str | None]] = {}

    def members(self, names: NDArray[np.object_]) -> list[str]:
        """Return the member ids of reporters."""
        new = [name for name in dict.fromkeys(names) if name not in self._members]
        if new:
            self._members |= reporters(self._session, self._actor, new)
        return [self._members[name] for name in names]

    def designs(self, pairs: list[tuple[str | None, str | None]]) -> Iterator[list[str | None]]:
        """Yield the design ids and the size ids of pairs of names."""
        for pair in dict.fromkeys(pairs):
            if pair not in self._designs:
                self._designs[pair] = designs.named(self._session, self._actor, *pair)
        for part in (0, 1):
            yield [self._designs[pair][part] for pair in pairs]

    def feet(self, measured: list[_Measured]) -> tuple[dict[_Measured, str], list[str]]:
        """Return the feet that are new in the file with their ids, and every row's foot id.

        The same measurements of the same reporter are the same foot.
        """
        new = {foot: new_id() for foot in dict.fromkeys(measured) if foot not in self._feet}
        self._feet |= new
        return new, [self._feet[foot] for foot in measured]


def _write(session: Session, actor: Actor, chunk: Chunk, names: _Names) -> None:
    """Insert the good rows of a chunk: a foot and a report each."""
    good = ~chunk.bad
    count = int(good.sum())
    if not count:
        return
    members = names.members(chunk.texts["reporter"][good])
    measurements = {name: _optional(chunk.numbers[name][good]) for name in MEASUREMENT_NAMES}
    feet, foot_ids = names.feet(list(zip(members, *measurements.values(), strict=True)))
    pairs = list(zip(_texts(chunk, "design", good), _texts(chunk, "size", good), strict=True))
    design_ids, size_ids = names.designs(pairs)
    shared = {"group_id": [actor.group_id] * count, "member_id": members}
    moment = {"created_at": [now()] * count}
    connection = session.connection()
    measurements = {name: _optional(chunk.numbers[name][good]) for name in MEASUREMENT_NAMES}
    if feet:
        insert_columns(connection, Foot.__table__, _new_feet(actor, feet))
    insert_columns(
        connection,
        Report.__table__,
        {
            "id": [new_id() for _ in range(count)],
            **shared,
            "foot_id": foot_ids,
            "design_id": design_ids,
            "size_id": size_ids,
            **_sock(chunk, good),
            "knitted_on": _texts(chunk, "knitted_on", good),
            "notes": _texts(chunk, "notes", good),
            "version": [1] * count,
            **moment,
            "updated_at": moment["created_at"],
        },
    )


def _new_feet(actor: Actor, feet: dict[_Measured, str]) -> dict[str, Sequence[Any]]:
    """Return feet as columns."""
    members, *measurements = zip(*feet, strict=True)
    return {
        "id": list(feet.values()),
        "group_id": [actor.group_id] * len(feet),
        "member_id": members,
        **dict(zip(MEASUREMENT_NAMES, measurements, strict=True)),
        "created_at": [now()] * len(feet),
    }


def _sock(chunk: Chunk, good: NDArray[np.bool_]) -> dict[str, list[Any]]:
    """Return the numbers of the sock as Python's own, whole ones as whole ones."""
    columns: dict[str, list[Any]] = {}
    for quantity in SOCK:
        values = chunk.numbers[quantity.name][good]
        columns[quantity.name] = (values.astype(int) if quantity.integer else values).tolist()
    each = chunk.numbers.get(DECREASES_PER_ROUND.name, np.full(len(good), 4.0))
    columns[DECREASES_PER_ROUND.name] = np.nan_to_num(each[good], nan=4.0).astype(int).tolist()
    for quantity in AFTERWARDS:
        if quantity.name in chunk.numbers:
            cells = _optional(chunk.numbers[quantity.name][good])
            columns[quantity.name] = [None if cell is None else int(cell) for cell in cells]
    return columns


def _optional(values: NDArray[np.float64]) -> list[float | None]:
    return [None if value != value else value for value in values.tolist()]  # noqa: PLR0124 - NaN


def _texts(chunk: Chunk, name: str, good: NDArray[np.bool_]) -> list[Any]:
    return chunk.texts[name][good].tolist() if name in chunk.texts else [None] * int(good.sum())
