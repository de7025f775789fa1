"""No reporter speaks for the whole pool: weights that cap each reporter's share."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

LARGEST_SHARE = 1 / 20
"""Of the pool's weight that one reporter may have, once there are 20 reporters."""

_SHARE_OF_FEW = 2.0

MOST_OF_FEW = 30.0
"""Reports that anyone among fewer than 20 counts for at most: who alone calls 400 socks just right
says more of one way of scoring than of socks (common sense, no source)."""


def largest_share(reporters: int) -> float:
    """Return the largest share of one reporter among so many.

    Among fewer than 20 a twentieth cannot be kept; then nobody has more than twice an equal share.
    """
    if reporters >= 1 / LARGEST_SHARE:
        return LARGEST_SHARE
    return min(1.0, _SHARE_OF_FEW / max(reporters, 1))


def capped_weights(reporter: NDArray[np.int64]) -> NDArray[np.float64]:
    """Return a weight for each row, at most 1, so that no reporter exceeds the largest share.

    Among few reporters nobody counts for more than `MOST_OF_FEW` reports either.
    Reporters at the cap weigh `c` each; all others one a report. With k of them capped,
    `c = share * (rest + k c)`, so `c = share * rest / (1 - share * k)`.

    >>> round(float(capped_weights(np.repeat(np.arange(40), [100, *[5] * 39]))[0]), 3)
    0.103
    """
    _, row_of, counts = np.unique(reporter, return_inverse=True, return_counts=True)
    return reporter_weights(counts)[row_of]


def reporter_weights(counts: NDArray[np.int64]) -> NDArray[np.float64]:
    """Return the weight of each row of every reporter (R,), who sent `counts` (R,) reports."""
    if len(counts) == 0:
        return np.ones(0)
    cap = _cap(np.sort(counts)[::-1].astype(float), largest_share(len(counts)))
    if len(counts) < 1 / LARGEST_SHARE:
        cap = min(cap, MOST_OF_FEW)
    weights: NDArray[np.float64] = np.minimum(1.0, cap / counts)
    return weights


def _cap(falling: NDArray[np.float64], share: float) -> float:
    """Return the weight that the largest reporters are cut to (infinite where none is)."""
    total = falling.sum()
    for capped in range(len(falling)):
        cap = share * (total - falling[:capped].sum()) / max(1 - share * capped, 1e-12)
        if falling[capped] <= cap * (1 + 1e-12):
            return float(cap) if capped else np.inf
    return float(falling[-1])
