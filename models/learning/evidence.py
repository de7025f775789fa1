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
        """Return evidence whose rows are sorted by content and whose reporters are numbered by it.

        A sum has other last bits for other row orders, and identifiers differ between databases;
        sorting and numbering by what the rows say makes refitting repeatable to the bit everywhere.
        """
        return cls.in_order(columns, reporter)[0]

    @classmethod
    def in_order(
        cls, columns: Mapping[str, Column], reporter: NDArray[np.int64]
    ) -> tuple[Evidence, NDArray[np.int64]]:
        """Return evidence, and the places (n,) from which its rows came, to carry more along."""
        order = np.lexsort([columns[name] for name in reversed(COLUMNS)])
        ordered = {name: columns[name][order] for name in COLUMNS}
        content = _numbered(ordered)
        who = _renamed(content, reporter[order])
        # Rows that say the same are told apart by their reporter alone.
        last = np.lexsort([who, content])
        return cls(ordered, who[last]), order[last]

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

    def only(self, rows: NDArray[np.bool_] | NDArray[np.int64]) -> Evidence:
        """Return some of the rows under the same numbers of reporters, in the order given."""
        return Evidence(
            {name: values[rows] for name, values in self.columns.items()}, self.reporter[rows]
        )

    def fingerprint(self) -> str:
        """Return the SHA-256 of the sorted rows, reporters left out."""
        digest = hashlib.sha256()
        for name in COLUMNS:
            digest.update(name.encode())
            digest.update(np.ascontiguousarray(self.columns[name], dtype="<f8").tobytes())
        return digest.hexdigest()


def people(reporter: NDArray[np.int64], rows: NDArray[np.bool_]) -> int:
    """Return how many people some rows are of."""
    return len(np.unique(reporter[rows]))


def _numbered(ordered: Mapping[str, Column]) -> NDArray[np.int64]:
    """Return a number for each sorted row, the same for rows that say the same."""
    new = np.zeros(len(ordered[FIT_SCORE.name]), dtype=bool)
    for values in ordered.values():
        both_missing = np.isnan(values[1:]) & np.isnan(values[:-1])
        new[1:] |= (values[1:] != values[:-1]) & ~both_missing
    return np.cumsum(new, dtype=np.int64)


def _renamed(content: NDArray[np.int64], reporter: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return reporters numbered by the list of their rows: equal lists are interchangeable."""
    _, codes, counts = np.unique(reporter, return_inverse=True, return_counts=True)
    ends = np.cumsum(counts) * 8
    told = content[np.lexsort([content, codes])].astype(">i8").tobytes()
    lists = [told[end - 8 * count : end] for end, count in zip(ends, counts, strict=True)]
    number = np.empty(len(lists), np.int64)
    number[sorted(range(len(lists)), key=lists.__getitem__)] = np.arange(len(lists))
    return number[codes]
