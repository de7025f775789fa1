"""Evidence in blocks: as much as fits in memory at a time, each person's reports in one block."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.learning.evidence import Column, Evidence
from models.learning.ordinal.arrays import Integers
from models.learning.ordinal.blocks import Blocks, InMemory


@dataclass(frozen=True)
class EvidenceBlocks:
    """Blocks of evidence whose reporters' numbers rise from block to block.

    `numbers` and `counts` (R,) are every reporter's number and reports, `ends` (B,) the reporters
    after each block's last.
    """

    blocks: Blocks[Evidence]
    numbers: Integers
    counts: Integers
    ends: Integers

    @classmethod
    def of(cls, blocks: Blocks[Evidence]) -> EvidenceBlocks:
        """Return blocks with whose reports they hold."""
        numbers, counts = zip(*blocks.each(_whose), strict=True)
        ends = np.cumsum([len(some) for some in numbers])
        return cls(blocks, np.concatenate(numbers), np.concatenate(counts), ends)

    @classmethod
    def whole(cls, evidence: Evidence) -> EvidenceBlocks:
        """Return evidence as one block in memory."""
        return cls.of(InMemory((evidence,)))

    @property
    def reports(self) -> int:
        """How many reports there are."""
        return int(self.counts.sum())

    @property
    def reporters(self) -> int:
        """How many people reported."""
        return len(self.numbers)

    def split(self, values: Column) -> list[Column]:
        """Return the values (R,) of each block's reporters."""
        return np.split(values, self.ends[:-1])


def in_blocks(evidence: Evidence, number: int) -> InMemory[Evidence]:
    """Return evidence in about that many blocks of about as many rows, none of them empty."""
    _, counts = np.unique(evidence.reporter, return_counts=True)
    order = np.argsort(evidence.reporter, kind="stable").astype(np.int64)
    ends = block_ends(counts, -(-evidence.reports // number))
    rows = np.split(order, np.cumsum(counts)[ends[:-1] - 1])
    return InMemory(tuple(evidence.only(some) for some in rows))


def block_ends(counts: Integers, most: int) -> Integers:
    """Return the reporters after each block's last, where blocks hold about `most` reports.

    >>> block_ends(np.array([3, 1, 2, 9, 1]), 4).tolist()
    [2, 3, 5]
    """
    last = (np.cumsum(counts) - 1) // most
    return np.append(np.flatnonzero(np.diff(last)) + 1, len(counts))


def _whose(evidence: Evidence) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    numbers, counts = np.unique(evidence.reporter, return_counts=True)
    return numbers, counts
