"""All rows of one fit, in blocks, as the search asks for them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TypeVar

import numpy as np

from models.learning.ordinal.arrays import Floats, Integers
from models.learning.ordinal.blocks import Blocks, InMemory, added
from models.learning.ordinal.offsets import OffsetState, RowState
from models.learning.ordinal.passes import Place, Settle, Settled
from models.learning.ordinal.problem import Rows

T = TypeVar("T")


@dataclass(frozen=True)
class RowBlocks:
    """Blocks of rows with what is asked of all of them often.

    `ends` (B,) are the reporters after each block's last, `counts` (K,) the weight of each
    category, `n_coefficients` the columns of the design.
    """

    blocks: Blocks[Rows]
    ends: Integers
    reports: int
    n_coefficients: int
    counts: Floats

    @classmethod
    def of(cls, blocks: Blocks[Rows]) -> RowBlocks:
        """Return blocks with what is asked of them often."""
        shapes, counts = zip(*blocks.each(_sizes), strict=True)
        reporters, reports, columns = zip(*shapes, strict=True)
        return cls(blocks, np.cumsum(reporters), sum(reports), columns[0], added(counts))

    @property
    def reporters(self) -> int:
        """Number of reporters in all blocks."""
        return int(self.ends[-1])

    def split(self, values: Floats) -> list[Floats]:
        """Return the values (R,) of each block's reporters."""
        return np.split(values, self.ends[:-1])

    def settled(
        self, place: Place, mode: Floats, precision: Floats, tol: float
    ) -> tuple[OffsetState, list[RowState | None]]:
        """Return the offsets that Newton steps from `mode` (R,) lead to, and the rows there.

        All blocks make the same number of steps, as many as the slowest needs: so many would one
        block of all rows make.
        """
        modes, precisions = self.split(mode), self.split(precision)
        made, found = [0] * len(modes), dict[int, Settled]()
        behind = list(range(len(modes)))
        while behind:
            most = max(made)
            work = Settle(place, tol, max(most, 1), keep=self.blocks.near)
            given = ([of[place] for place in behind] for of in (modes, precisions, made))
            for k, one in zip(behind, self.blocks.only(behind).each(work, *given), strict=True):
                found[k], modes[k], made[k] = one, one.offsets.mode, one.steps
            behind = [k for k, steps in enumerate(made) if steps < max(made)]
        in_order = [found[k] for k in range(len(modes))]
        return OffsetState.joined([one.offsets for one in in_order]), [one.at for one in in_order]

    def asked(
        self, work: Callable[..., T], offsets: OffsetState, at: Sequence[RowState | None]
    ) -> list[T]:
        """Return what work finds of each block's rows, its offsets, and its rows at them."""
        return self.blocks.each(work, offsets.split(self.ends), at)

    def every(self, step: int) -> RowBlocks:
        """Return the rows of every `step`-th reporter, as one block in memory."""
        before = [0, *self.ends[:-1].tolist()]
        kept = self.blocks.each(partial(_every, step=step), before)
        return RowBlocks.of(InMemory((Rows.joined(kept),)))


def _sizes(rows: Rows) -> tuple[tuple[int, int, int], Floats]:
    counts = np.bincount(rows.category, rows.weight, rows.n_categories).astype(np.float64)
    return (rows.reporters.count, len(rows.category), rows.n_coefficients), counts


def _every(rows: Rows, before: int, step: int) -> Rows:
    return rows.every(step, before)
