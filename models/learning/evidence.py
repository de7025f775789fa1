"""Evidence: the reports of a group as columns, in an order that depends on nothing but them."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.domain.foot import MEASUREMENT_NAMES
from models.domain.quantities import DECREASES_PER_ROUND, FIT_SCORE, GAUGE, HEEL_STITCHES
from models.domain.sections import COUNT_NAMES

Column = NDArray[np.float64]

QUESTION_COLUMNS = (
    *MEASUREMENT_NAMES,
    "yarn_weight",
    *(quantity.name for quantity in GAUGE),
    HEEL_STITCHES.name,
    DECREASES_PER_ROUND.name,
    *COUNT_NAMES,
)
"""What is known of a sock before anybody wears it; NaN where a measurement was not taken."""

COLUMNS = (*QUESTION_COLUMNS, FIT_SCORE.name)


@dataclass(frozen=True)
class Evidence:
    """Reports as float columns of one length, and a whole number for each row's reporter."""

    columns: Mapping[str, Column]
    reporter: NDArray[np.int64]

    @classmethod
    def of(cls, columns: Mapping[str, Column], reporter: NDArray[np.int64]) -> Evidence:
        """Return evidence whose rows are sorted by content.

        Least squares gives other last bits for other row orders, and identifiers differ between
        databases; sorting by what the rows say makes refitting repeatable to the bit everywhere.
        """
        order = np.lexsort([columns[name] for name in reversed(COLUMNS)])
        return cls({name: columns[name][order] for name in COLUMNS}, reporter[order])

    @property
    def reports(self) -> int:
        """How many reports there are."""
        return len(self.reporter)

    @property
    def reporters(self) -> int:
        """How many people reported."""
        return len(np.unique(self.reporter))

    @property
    def score(self) -> Column:
        """The fit scores, -2 to 2."""
        return self.columns[FIT_SCORE.name]

    def fingerprint(self) -> str:
        """Return the SHA-256 of the sorted rows, reporters left out."""
        digest = hashlib.sha256()
        for name in COLUMNS:
            digest.update(name.encode())
            digest.update(np.ascontiguousarray(self.columns[name], dtype="<f8").tobytes())
        return digest.hexdigest()
