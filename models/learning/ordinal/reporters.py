"""Rows gathered by reporter: every sum over a reporter costs one pass over the rows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.sparse import csr_array

from models.learning.ordinal.arrays import Floats, Integers


@dataclass(frozen=True)
class Reporters:
    """Who sent which row; rows of one reporter are adjacent.

    Attributes
    ----------
    of_row : array (n,)
        Index of the reporter of each row, non-decreasing.
    starts : array (R,)
        First row of each reporter.

    """

    of_row: Integers
    starts: Integers

    @classmethod
    def from_sorted(cls, labels: Integers) -> Reporters:
        """Gather rows whose labels are already sorted."""
        first = np.flatnonzero(np.concatenate(([True], labels[1:] != labels[:-1]))[: len(labels)])
        of_row = np.repeat(np.arange(len(first)), np.diff(np.append(first, len(labels))))
        return cls(of_row.astype(np.int64), first.astype(np.int64))

    @property
    def count(self) -> int:
        """Number of reporters."""
        return len(self.starts)

    def total(self, rows: Floats) -> Floats:
        """Sum rows (n,) over each reporter: (R,)."""
        found = np.bincount(self.of_row, weights=rows, minlength=self.count)
        return np.asarray(found, dtype=np.float64)

    def totals(self, rows: Floats) -> Floats:
        """Sum rows (n, k) over each reporter: (R, k)."""
        return np.asarray(self.gathering @ rows, dtype=np.float64)

    @cached_property
    def gathering(self) -> csr_array:
        """Matrix (R, n) of zeros and ones that adds up each reporter's rows."""
        n = len(self.of_row)
        return csr_array((np.ones(n), np.arange(n), np.append(self.starts, n)))

    def every(self, step: int, before: int = 0) -> tuple[Reporters, Integers]:
        """Return every `step`-th reporter, and the rows that are theirs.

        `before` is how many reporters stand before these.
        """
        kept = np.flatnonzero((self.of_row + before) % step == 0)
        return Reporters.from_sorted(self.of_row[kept]), kept

    @classmethod
    def joined(cls, parts: Sequence[Reporters]) -> Reporters:
        """Return the reporters of several blocks, in their order, as one."""
        before = np.cumsum([0, *(part.count for part in parts)])
        return cls.from_sorted(
            np.concatenate([part.of_row + k for part, k in zip(parts, before, strict=False)])
        )
