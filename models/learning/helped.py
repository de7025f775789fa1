"""Whether a change helped: shares of people before and after it, with intervals.

References
----------
Wilson 1927, JASA 22:209 (from memory), as `scipy.stats` has it.

"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy  # loads scipy.stats when it is first used; `from scipy.stats import` does at once

from models.learning.calibration import FEWEST_REPORTERS_SHOWN
from models.learning.evidence import Column

LEVEL = 0.8
"""Of the intervals: as everywhere in this service."""


@dataclass(frozen=True)
class Share:
    """How many reports there are, and the share just right among them with its interval."""

    reports: int
    just_right: float
    low: float
    high: float


def just_right(score: Column, reporter: Column) -> Share | None:
    """Return the share of reports (n,) that are just right, or None where too few people report.

    A reporter counts as often as he reports; the interval takes reports as independent.
    """
    if len(np.unique(reporter)) < FEWEST_REPORTERS_SHOWN:
        return None
    good = int(np.sum(np.asarray(score) == 0))
    found = scipy.stats.binomtest(good, len(score)).proportion_ci(LEVEL, method="wilson")
    return Share(len(score), good / len(score), float(found.low), float(found.high))
