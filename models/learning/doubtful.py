"""Which reports to hold back, and why: feet that are none, copies, wrong signs, floods.

Reports are held for a steward to look at, so a sound one must hardly ever be among them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.domain.foot import MEASUREMENT_NAMES
from models.domain.reviews import Reason
from models.learning.estimator import Posterior
from models.learning.evidence import COLUMNS, Column, Evidence
from models.learning.flipped import flipped
from models.learning.proportions import implausible_feet

Rows = NDArray[np.bool_]

TELLING_MEASUREMENTS = 3
"""Measurements from which on two reports may be known to be about one foot."""

MARKS_MM = (5.0, 6.35)
"""What tapes are read to: half a centimetre or a quarter of an inch (common practice, no source).
Feet rounded so, with equal socks and scores, coincide by chance some 6 times in a pool of 3,000."""

SHARED_REPORTS = 2
"""Reports that two reporters must share to be copies, where each might coincide by chance."""

SOCKS_OF_A_PAIR = 2

MOST_OF_ONE_DAY = 100
"""Reports of one reporter for one day. Nobody knits a hundred socks in a day, or in most years; a
season's socks or a test knit of 60, sent in one evening or all given one date, stay below. What a
smaller flood can do is bounded by the share that one reporter may have of the pool."""

_NEXT_TO_A_MARK_MM = 0.06

NO_REASON = ""


@dataclass(frozen=True)
class Received:
    """All reports of a group in the order in which they came.

    `evidence` has the rows unsorted; `day` (n,) is when the sock was finished or, where that was
    not `said`, when the report came, as a day's number. `counted` marks those that count and that
    nobody has looked at yet: only they can be held. `waiting` marks those that are held.
    """

    evidence: Evidence
    day: NDArray[np.int64]
    said: Rows
    counted: Rows
    waiting: Rows


def reasons(posterior: Posterior, received: Received) -> NDArray[np.str_]:
    """Return for each row the `Reason` to hold it, the most tangible one, or `NO_REASON`."""
    evidence, day, counted = received.evidence, received.day, received.counted
    found: dict[Reason, Rows] = {
        Reason.IMPLAUSIBLE_FOOT: implausible_feet(evidence.columns),
        Reason.COPY: copies(evidence, np.where(received.said, day, 0)),
        Reason.FLIPPED_SIGNS: _flipped(posterior, evidence, counted),
        Reason.FLOODING: floods(evidence.reporter, day, counted, received.waiting),
    }
    held = [rows & counted for rows in found.values()]
    return np.select(held, [np.str_(reason.value) for reason in found], np.str_(NO_REASON))


def copies(evidence: Evidence, finished: NDArray[np.int64]) -> Rows:
    """Return the rows that repeat an earlier one: another reporter's, or a pair of one's own.

    Of another's report, one copy is enough where the foot was measured finely; otherwise the two
    reporters must have several in common. `finished` (n,) is the number of the day that was said,
    else 0: who knits the same sock again and says when has not copied.
    """
    alike = _alike(evidence.columns)
    _, first = np.unique(alike, return_index=True)
    author = evidence.reporter[first[alike]]
    own = _numbered(alike, evidence.reporter)
    rank = _rank(own)
    taken, fine = _measurements(evidence.columns)
    of_another = (evidence.reporter != author) & (taken >= TELLING_MEASUREMENTS)
    pair = _numbered(evidence.reporter, author)
    shared = np.bincount(pair, weights=of_another & (rank == 0))[pair]
    telling = (fine >= TELLING_MEASUREMENTS) | (shared >= SHARED_REPORTS)
    found: Rows = (of_another & telling) | (_rank(_numbered(own, finished)) >= SOCKS_OF_A_PAIR)
    return found


def floods(
    reporter: NDArray[np.int64], day: NDArray[np.int64], counted: Rows, waiting: Rows
) -> Rows:
    """Return the rows of reporters' days that have more reports than anybody knits.

    Held ones count along, so that a flood is not let in by slices; what a steward has looked at
    does not.
    """
    cell = _numbered(reporter, day - day.min(initial=0))
    count = np.bincount(cell, weights=counted | waiting)
    return np.asarray(count[cell] > MOST_OF_ONE_DAY)


def _flipped(posterior: Posterior, evidence: Evidence, counted: Rows) -> Rows:
    """Judge the signs of what counts alone: what was corrected since is judged afresh."""
    held = np.zeros(evidence.reports, dtype=bool)
    held[counted] = flipped(posterior, evidence.only(counted))
    return held


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
        numbers = _numbered(numbers, value.astype(np.int64))
    return numbers


def _numbered(one: NDArray[np.int64], other: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return a number for each row, the same where both numbers are; none is negative."""
    _, numbers = np.unique(one * (other.max(initial=0) + 1) + other, return_inverse=True)
    return numbers.astype(np.int64)


def _rank(cell: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return how many earlier rows have the same number."""
    order = np.argsort(cell, kind="stable")
    ends = np.cumsum(np.bincount(cell))
    starts = np.concatenate([[0], ends[:-1]]).astype(np.int64)
    rank = np.empty(len(cell), dtype=np.int64)
    rank[order] = np.arange(len(cell)) - starts[cell[order]]
    return rank
