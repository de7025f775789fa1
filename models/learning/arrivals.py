"""Reports as they arrive, person by person, on disk: numbered, sorted and cut into blocks there.

All that `Evidence.of` does to reports in memory happens here to as many as the disk holds. What is
kept in memory of each person is the first report and a few numbers.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import Final

import numpy as np

from models.learning.evidence import COLUMNS, Evidence
from models.learning.evidence_blocks import block_ends
from models.learning.fingerprints import fingerprint, sort_keys
from models.learning.folds import MOST_COMPARED, Rows, Sample
from models.learning.ordinal.arrays import Floats, Integers
from models.learning.spilled import Ranges, Spilled

WHOSE, KNOWN, SAID = 0, 1, 2
"""Columns of a chunk: a person's place in the order of arrival, whether the active calibration knew
the report (1 or 0), and from there on `COLUMNS`."""

_WIDTH: Final = SAID + len(COLUMNS)


@dataclass(frozen=True)
class Arrivals:
    """Chunks (n, 2 + columns) of whole people, their rows sorted by content.

    `number` (R,) is that of each person in the order of arrival, as `Evidence` numbers people;
    `counts` (R,) are the reports of each, by number.
    """

    chunks: Spilled[Floats]
    number: Integers
    counts: Integers

    @classmethod
    def of(cls, chunks: Iterable[Floats]) -> Arrivals:
        """Write chunks as they come, and number their people."""
        held = Spilled.of(_in_order(chunk) for chunk in chunks)
        firsts, counts = zip(*held.each(_firsts), strict=True)
        by_content = _by_content(held, np.concatenate(firsts))
        number = np.empty(len(by_content), np.int64)
        number[by_content] = np.arange(len(by_content))
        return cls(held, number, np.concatenate(counts)[by_content])

    def blocks(self, most: int) -> Iterator[Evidence]:
        """Yield blocks of evidence of about `most` reports, in the order of people's numbers."""
        ends = block_ends(self.counts, most)
        ranges = Ranges(len(ends), _WIDTH)
        for rows in self._numbered():
            ranges.add(rows, np.searchsorted(ends, rows[:, WHOSE], side="right"))
        for rows in ranges:
            yield _evidence(rows[np.argsort(rows[:, WHOSE], kind="stable")])

    def compared(self, most: int = MOST_COMPARED) -> tuple[Evidence, Rows]:
        """Return the reports that calibrations are compared on, and which were known."""
        sample = Sample.of(self.counts, most)
        chosen = (rows[sample.rows(rows[:, WHOSE].astype(np.int64))] for rows in self._numbered())
        found = np.concatenate(list(chosen))
        found = found[np.lexsort([found[:, WHOSE], *sort_keys(found[:, SAID:])])]
        return _evidence(found), found[:, KNOWN] == 1

    def fingerprint(self) -> str:
        """Return what `Evidence.fingerprint` gives for all reports."""
        return fingerprint(self.chunks, SAID)

    def _numbered(self) -> Iterator[Floats]:
        """Yield the chunks with people's numbers in place of their order of arrival."""
        for rows in self.chunks:
            rows[:, WHOSE] = self.number[rows[:, WHOSE].astype(np.int64)]
            yield rows


def _in_order(chunk: Floats) -> Floats:
    return np.asarray(chunk[np.lexsort([*sort_keys(chunk[:, SAID:]), chunk[:, WHOSE]])])


def _firsts(rows: Floats) -> tuple[Floats, Integers]:
    """Return what the first row of each person says (R, columns), and how many rows each has."""
    _, first, counts = np.unique(rows[:, WHOSE], return_index=True, return_counts=True)
    return rows[first, SAID:], counts


def _by_content(chunks: Spilled[Floats], firsts: Floats) -> Integers:
    """Return people sorted by the list of their rows: by the first, all where those agree."""
    order = np.lexsort(sort_keys(firsts))
    told = np.nan_to_num(firsts[order], nan=np.inf)
    same = np.append(np.all(told[1:] == told[:-1], axis=1), [False])
    tied = np.flatnonzero(same | np.roll(same, 1))
    if len(tied):
        cell = np.cumsum(~np.roll(same, 1))
        lists = {}
        for some in chunks.each(partial(_lists, whose=order[tied])):
            lists.update(some)
        settled = sorted(tied.tolist(), key=lambda at: (cell[at], lists[int(order[at])]))
        order[tied] = order[settled]
    return order.astype(np.int64)


def _lists(rows: Floats, whose: Integers) -> dict[int, tuple[float, ...]]:
    """Return all that some people's rows say; what was not measured comes last."""
    found = rows[np.isin(rows[:, WHOSE], whose)]
    codes, firsts = np.unique(found[:, WHOSE], return_index=True)
    said = np.split(np.nan_to_num(found[:, SAID:], nan=np.inf), firsts[1:])
    return {int(c): tuple(s.ravel().tolist()) for c, s in zip(codes, said, strict=False)}


def _evidence(rows: Floats) -> Evidence:
    columns = np.ascontiguousarray(rows[:, SAID:].T)
    return Evidence(dict(zip(COLUMNS, columns, strict=True)), rows[:, WHOSE].astype(np.int64))
