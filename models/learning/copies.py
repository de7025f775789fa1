"""Reports that repeat an earlier one, found among all of a group, in memory or through files.

Reports that say the same are brought together, then those by which two reporters repeat each other:
both times a part of the rows is all that is looked at at once.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from models.domain.foot import MEASUREMENT_NAMES
from models.learning.evidence import COLUMNS, Column
from models.learning.received import DAY, DAY_SAID, SAID, WHOSE, evidence_of, oldest_first
from models.learning.spilled import together

Rows = NDArray[np.bool_]

TELLING_MEASUREMENTS = 3
"""Measurements from which on two reports may be known to be about one foot."""

MARKS_MM = (5.0, 6.35)
"""What tapes are read to: half a centimetre or a quarter of an inch (common practice, no source).
Feet rounded so, with equal socks and scores, coincide by chance some 6 times in a pool of 3,000."""

SHARED_REPORTS = 2
"""Reports that two reporters must share to be copies, where each might coincide by chance."""

SOCKS_OF_A_PAIR = 2

_NEXT_TO_A_MARK_MM = 0.06

_ODD = np.uint64(0x9E3779B97F4A7C15)
"""2^64 over the golden ratio."""

_AUTHOR, _NEW, _FINE, _OWN, _ROW = range(5)
"""Columns of a repeat: who said it first, whether it is the first by which its reporter repeats
another's, whether its foot was measured finely, whether it is one too many of its reporter's own,
and from there on the row itself."""


def copies(chunks: Iterable[Column], parts: int = 1) -> Iterator[Column]:
    """Yield the rows that repeat an earlier one: another reporter's, or a pair of one's own.

    Of another's report, one copy is enough where the foot was measured finely; otherwise the two
    reporters must have several in common. Who knits the same sock again and says when has not
    copied. About one of so many `parts` of the rows is in memory at a time.
    """
    repeats = map(_repeats, together(chunks, parts, _by_content))
    yield from map(_telling, together(repeats, parts, _by_pair))


def _repeats(rows: Column) -> Column:
    """Return the repeats among rows, of which none says what a row elsewhere says."""
    ordered = oldest_first(rows)
    evidence = evidence_of(ordered)
    alike = _alike(evidence.columns)
    _, first = np.unique(alike, return_index=True)
    author = evidence.reporter[first[alike]]
    taken, fine = _measurements(evidence.columns)
    own = numbered(alike, evidence.reporter)
    of_another = (evidence.reporter != author) & (taken >= TELLING_MEASUREMENTS)
    finished = np.where(ordered[:, DAY_SAID] == 1, ordered[:, DAY], 0).astype(np.int64)
    too_many = _rank(numbered(own, finished)) >= SOCKS_OF_A_PAIR
    told = (author, of_another & (_rank(own) == 0), of_another & (fine >= TELLING_MEASUREMENTS))
    return np.asarray(np.column_stack([*told, too_many, ordered])[of_another | too_many])


def _telling(repeats: Column) -> Column:
    """Return the rows that are copies, where all repeats of a reporter of an author are there."""
    author, reporter = (repeats[:, place].astype(np.int64) for place in (_AUTHOR, _ROW + WHOSE))
    pair = numbered(reporter, author)
    shared = np.bincount(pair, weights=repeats[:, _NEW])[pair]
    chance = (shared < SHARED_REPORTS) & (repeats[:, _FINE] == 0)
    return np.asarray(repeats[(repeats[:, _OWN] == 1) | ~chance, _ROW:])


def numbered(one: NDArray[np.int64], other: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return a number for each row, the same where both numbers are; none is negative."""
    _, numbers = np.unique(one * (other.max(initial=0) + 1) + other, return_inverse=True)
    return numbers.astype(np.int64)


def _measurements(columns: Mapping[str, Column]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return how many measurements were taken, (n,), and how many finer than tapes are marked."""
    feet = np.column_stack([columns[name] for name in MEASUREMENT_NAMES])
    marks = np.array(MARKS_MM)
    off = np.abs(feet[..., None] - np.rint(feet[..., None] / marks) * marks)
    taken = ~np.isnan(feet)
    return taken.sum(axis=1), (taken & np.all(off > _NEXT_TO_A_MARK_MM, axis=2)).sum(axis=1)


def _alike(columns: Mapping[str, Column]) -> NDArray[np.int64]:
    """Return a number for each row, the same for rows that say the same."""
    numbers = np.zeros(len(columns[COLUMNS[0]]), dtype=np.int64)
    for name in COLUMNS:
        _, value = np.unique(np.nan_to_num(columns[name], nan=-np.inf), return_inverse=True)
        numbers = numbered(numbers, value.astype(np.int64))
    return numbers


def _rank(cell: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return how many earlier rows have the same number."""
    order = np.argsort(cell, kind="stable")
    ends = np.cumsum(np.bincount(cell))
    starts = np.concatenate([[0], ends[:-1]]).astype(np.int64)
    rank = np.empty(len(cell), dtype=np.int64)
    rank[order] = np.arange(len(cell)) - starts[cell[order]]
    return rank


def _by_content(rows: Column) -> NDArray[np.uint64]:
    return _spread(np.nan_to_num(rows[:, SAID], nan=-np.inf))


def _by_pair(repeats: Column) -> NDArray[np.uint64]:
    return _spread(repeats[:, [_AUTHOR, _ROW + WHOSE]])


def _spread(values: Column) -> NDArray[np.uint64]:
    """Return a number for each row (n, k), the same for equal rows and spread evenly over others.

    Multiplying by a large odd number and folding the high half onto the low one mixes the bits.
    """
    mixed = np.zeros(len(values), np.uint64)
    for bits in np.ascontiguousarray(values.T + 0.0).view(np.uint64):
        mixed = (mixed ^ bits) * _ODD
        mixed ^= mixed >> np.uint64(32)
    return mixed
