"""The depth that such feet need on average, with its 80 % range, in mm and in rounds."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor
from typing import Any

import numpy as np

from models.learning.evidence import Column
from models.learning.fieller import Ratio

Z_80 = 1.2815515655446004
"""Standard errors on each side of an 80 % range."""


@dataclass(frozen=True)
class Needed:
    """Where the expected fit is 0: the depth, and its 80 % range, in mm; floats or arrays."""

    depth_mm: Any
    range_mm: tuple[Any, Any]


def needed(steps_cm: Ratio, first_depth_mm: float) -> Needed | None:
    """Return where the rising line crosses 0, given as a ratio of cm beyond the first depth.

    None where it is not established that the line rises; that depends on the slope alone.
    """
    found = steps_cm.interval(Z_80) if steps_cm.denominator > 0 else None
    if found is None:
        return None
    middle = steps_cm.numerator / steps_cm.denominator
    low, high = (first_depth_mm + 10 * end for end in found)
    return Needed(first_depth_mm + 10 * middle, (low, high))


def in_rounds(ends_mm: Column, depths_mm: Column) -> Column:
    """Return depths as slow-decrease rounds, beyond the candidates at the pace of the last ones.

    Parameters
    ----------
    ends_mm : array of any shape
        What is to be said in rounds.
    depths_mm : array (S,)
        Depths with 0 to S - 1 slow-decrease rounds, rising; where there is but one, all are 0.

    """
    if len(depths_mm) == 1:
        return np.zeros_like(ends_mm)
    inside = np.interp(ends_mm, depths_mm, np.arange(len(depths_mm)))
    before = np.minimum(ends_mm - depths_mm[0], 0) / (depths_mm[1] - depths_mm[0])
    beyond = np.maximum(ends_mm - depths_mm[-1], 0) / (depths_mm[-1] - depths_mm[-2])
    rounds: Column = inside + before + beyond
    return rounds


def whole_rounds(low: float, high: float, best: int, most: int) -> tuple[int, int]:
    """Round a range outwards, cut it to what is possible, and keep the suggestion inside."""
    first, last = (min(max(end, 0), most) for end in (floor(low), ceil(high)))
    return min(first, best), max(last, best)
