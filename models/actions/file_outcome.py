"""What becomes of a file that is worked through row by row."""

from __future__ import annotations

from dataclasses import dataclass, field

from models.actions.csv_chunks import Chunk
from models.actions.row_faults import FirstFaults, RowFault


@dataclass
class Outcome:
    """Rows used, left out because they are wrong, and known before; with what is to be said.

    `known_rows` holds the numbers of rows; `doubts` are about rows that were used all the same.
    """

    used: int = 0
    left_out: int = 0
    known_rows: list[int] = field(default_factory=list)
    geometry_alone: bool = False
    _faults: FirstFaults = field(default_factory=FirstFaults)
    _doubts: FirstFaults = field(default_factory=FirstFaults)

    @property
    def known(self) -> int:
        """How many rows were known before."""
        return len(self.known_rows)

    @property
    def faults(self) -> list[RowFault]:
        """What is wrong in the first rows that are."""
        return self._faults.first

    @property
    def faults_in_all(self) -> int:
        """How many faults there are."""
        return self._faults.in_all

    @property
    def doubts(self) -> list[RowFault]:
        """What is unusual in the first rows that are."""
        return self._doubts.first

    @property
    def doubts_in_all(self) -> int:
        """How many doubts there are."""
        return self._doubts.in_all

    def tally(self, chunk: Chunk) -> None:
        """Count the rows of a chunk, and keep what is said of them in the order of the rows."""
        self.left_out += int(chunk.bad.sum())
        self.used += int((~chunk.bad).sum())
        self._faults.take(chunk.faults)
        self._doubts.take(chunk.doubts)


class FileRefused(Exception):
    """Some rows are wrong and nothing was to be done without them."""

    def __init__(self, outcome: Outcome) -> None:
        super().__init__(f"{outcome.faults_in_all} faults in {outcome.left_out} rows")
        self.outcome = outcome
