"""Folds for judging a calibration by socks of people it has not met.

All reports of one person are in the same fold: whoever reports twice would else be foreseen by
having been met. Evidence is sorted and its reporters are numbered by content, so the folds depend
on nothing but what the reports say.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Rows = NDArray[np.bool_]

MOST_FOLDS = 5

MOST_COMPARED = 9_000
"""Reports that are compared at most, about: ten fits to four fifths of them cost no more than one
fit to 100,000."""


def reporter_folds(reporter: NDArray[np.int64]) -> Iterator[Rows]:
    """Yield the held-out rows of each fold; at least two people must have reported."""
    # Here, for a server that only answers does without scikit-learn.
    from sklearn.model_selection import GroupKFold  # noqa: PLC0415

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
    _, who, counts = np.unique(reporter, return_inverse=True, return_counts=True)
    return Sample.of(counts, most).rows(who)


@dataclass(frozen=True)
class Sample:
    """How many of each person's reports (R,) are compared; of every `step`-th person, that is."""

    counts: NDArray[np.int64]
    taken: NDArray[np.int64]
    step: int

    @classmethod
    def of(cls, counts: NDArray[np.int64], most: int) -> Sample:
        """Return which are compared of so many reports (R,) of each person."""
        if counts.sum() <= most:
            return cls(counts, counts, 1)
        taken = np.minimum(counts, most // 20)
        return cls(counts, taken, -(-int(taken.sum()) // most))

    def rows(self, who: NDArray[np.int64]) -> Rows:
        """Return which rows (n,) are compared; all rows of their people must be among them."""
        present, local = np.unique(who, return_inverse=True)
        spread = _spread(local, self.counts[present], self.taken[present])
        return np.asarray(spread & (who % self.step == 0))


def _spread(who: NDArray[np.int64], counts: NDArray[np.int64], taken: NDArray[np.int64]) -> Rows:
    """Return that many rows of each person, evenly spread over that person's rows."""
    order = np.argsort(who, kind="stable")
    firsts = np.cumsum(counts) - counts
    place = np.empty(len(who), np.int64)
    place[order] = np.arange(len(who)) - np.repeat(firsts, counts)
    steps = place * taken[who] // counts[who]
    before = (place - 1) * taken[who] // counts[who]
    return np.asarray(steps != before)
