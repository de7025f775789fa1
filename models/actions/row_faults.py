"""What is wrong, or unusual, in the rows of a file: the first in words, all of it counted."""

from __future__ import annotations

from dataclasses import dataclass, field

from models.domain.errors import Fault

MOST_TOLD = 1000
"""Faults that are kept to be shown: a file of nothing but wrong cells has millions of them."""


@dataclass(frozen=True)
class RowFault:
    """What is wrong in one row of a file."""

    row: int
    fault: Fault

    def __str__(self) -> str:
        return f"row {self.row}: {self.fault}"


@dataclass
class FirstFaults:
    """The first thousand faults in the order of their rows, and how many there are in all."""

    in_all: int = 0
    _kept: list[RowFault] = field(default_factory=list)

    def add(self, fault: RowFault) -> None:
        """Count a fault, and keep it if it is among the first."""
        self.in_all += 1
        self._kept.append(fault)
        if len(self._kept) >= 2 * MOST_TOLD:
            self._kept = self.first

    def take(self, later: FirstFaults) -> None:
        """Count what was found in later rows as well."""
        self.in_all += later.in_all
        self._kept = (self.first + later.first)[:MOST_TOLD]

    @property
    def first(self) -> list[RowFault]:
        """The first faults; of one row in the order in which they were found."""
        return sorted(self._kept, key=lambda fault: fault.row)[:MOST_TOLD]
