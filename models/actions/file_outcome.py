"""What becomes of a file that is worked through row by row."""

from __future__ import annotations

from dataclasses import dataclass, field

from models.actions.csv_chunks import Chunk, RowFault

MOST_KEPT = 1000
"""Faults, and doubts, that are kept to be shown; more are only counted."""


@dataclass
class Outcome:
    """Rows used, left out because they are wrong, and known before; with what is to be said.

    `known_rows` holds the numbers of rows; `doubts` are about rows that were used all the same.
    """

    used: int = 0
    left_out: int = 0
    known_rows: list[int] = field(default_factory=list)
    faults: list[RowFault] = field(default_factory=list)
    faults_in_all: int = 0
    doubts: list[RowFault] = field(default_factory=list)
    doubts_in_all: int = 0
    geometry_alone: bool = False

    @property
    def known(self) -> int:
        """How many rows were known before."""
        return len(self.known_rows)

    def tally(self, chunk: Chunk) -> None:
        """Count the rows of a chunk, and keep what is said of them in the order of the rows."""
        self.left_out += int(chunk.bad.sum())
        self.used += int((~chunk.bad).sum())
        self.faults_in_all += len(chunk.faults)
        self.doubts_in_all += len(chunk.doubts)
        _keep(self.faults, chunk.faults)
        _keep(self.doubts, chunk.doubts)


class FileRefused(Exception):
    """Some rows are wrong and nothing was to be done without them."""

    def __init__(self, outcome: Outcome) -> None:
        super().__init__(f"{outcome.faults_in_all} faults in {outcome.left_out} rows")
        self.outcome = outcome


def _keep(kept: list[RowFault], more: list[RowFault]) -> None:
    room = MOST_KEPT - len(kept)
    kept += sorted(more, key=lambda fault: fault.row)[:room]
