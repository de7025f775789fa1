"""Means with standard errors that know that one person's reports are alike.

Each row's influence on an estimate is summed over its reporter; the spread of these sums is the
standard error.

References
----------
Liang, K.-Y. and Zeger, S. (1986). Longitudinal data analysis using generalized linear models.
Biometrika 73, 13-22 (from memory).

"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.learning.evidence import Column


@dataclass(frozen=True)
class Estimate:
    """An estimate, and what each of the rows (n,) that it rests on moved it by."""

    value: float
    influence: Column

    def __sub__(self, other: Estimate) -> Estimate:
        return Estimate(self.value - other.value, self.influence - other.influence)

    def standard_error(self, reporter: NDArray[np.int64]) -> float:
        """Return the standard error clustered by reporter (n,); infinite for fewer than two."""
        _, who, counts = np.unique(reporter, return_inverse=True, return_counts=True)
        people = len(counts)
        if people < 2:
            return float("inf")
        sums = np.bincount(who, weights=self.influence)
        return float(np.sqrt(people / (people - 1) * np.sum(np.square(sums))))


def weighted_mean(values: Column, weight: Column) -> Estimate:
    """Return the mean of values (n,) under weights (n,) that are not all 0."""
    whole = weight.sum()
    mean = float(weight @ values / whole)
    return Estimate(mean, weight * (values - mean) / whole)
