"""Folds for judging a calibration by socks of people it has not met.

All reports of one person are in the same fold: whoever reports twice would else be foreseen by
having been met. Evidence is sorted and its reporters are numbered by content, so the folds depend
on nothing but what the reports say.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray
from sklearn.model_selection import GroupKFold

Rows = NDArray[np.bool_]

MOST_FOLDS = 5

MOST_COMPARED = 9_000
"""Reports that are compared at most, about: ten fits to four fifths of them cost no more than one
fit to 100,000."""


def reporter_folds(reporter: NDArray[np.int64]) -> Iterator[Rows]:
    """Yield the held-out rows of each fold; at least two people must have reported."""
    folds = GroupKFold(min(MOST_FOLDS, len(np.unique(reporter))))
    for _, held_out in folds.split(reporter, groups=reporter):
        rows = np.zeros(len(reporter), dtype=bool)
        rows[held_out] = True
        yield rows


def compared_rows(reporter: NDArray[np.int64], most: int = MOST_COMPARED) -> Rows:
    """Return the rows to compare on: all, or those of every k-th person in a large pool.

    People are numbered by what they reported, so every k-th of them is spread over all feet.
    Of anybody's reports at most a twentieth of what is compared is taken, evenly.
    """
    if len(reporter) <= most:
        return np.ones(len(reporter), dtype=bool)
    _, who, counts = np.unique(reporter, return_inverse=True, return_counts=True)
    taken = np.minimum(counts, most // 20)
    step = -(-int(taken.sum()) // most)
    return np.asarray(_spread(who, counts, taken) & (who % step == 0))


def _spread(who: NDArray[np.int64], counts: NDArray[np.int64], taken: NDArray[np.int64]) -> Rows:
    """Return that many rows of each person, evenly spread over that person's rows."""
    order = np.argsort(who, kind="stable")
    firsts = np.cumsum(counts) - counts
    place = np.empty(len(who), np.int64)
    place[order] = np.arange(len(who)) - np.repeat(firsts, counts)
    steps = place * taken[who] // counts[who]
    before = (place - 1) * taken[who] // counts[who]
    return np.asarray(steps != before)
