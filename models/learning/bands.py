"""Cells of socks of one kind, none of them of few people, and none to be had by subtraction.

References
----------
Willenborg, L. and de Waal, T. (2001). Elements of Statistical Disclosure Control, Springer, on
complementary suppression (from memory).

"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.domain.yarn import YARN_WEIGHTS
from models.learning.calibration import FEWEST_REPORTERS_SHOWN
from models.learning.evidence import Evidence, people
from models.learning.folds import Rows

BAND_MM = 20
"""Width of a band of foot lengths or circumferences."""

OTHER = "other"

KINDS = ("yarn_weight", "foot_length_mm", "foot_circumference_mm")
"""The columns by which socks are told apart."""

_YARNS = {weight.number: weight.name for weight in YARN_WEIGHTS}


@dataclass(frozen=True)
class Cell:
    """Socks of one kind: the column that tells them apart, a label, and their rows (n,).

    Column and label are None where they are all socks.
    """

    kind: str | None
    label: str | None
    rows: Rows


def cells(evidence: Evidence, kind: str, fewest: int) -> list[Cell]:
    """Return cells of `fewest` people or more that hold every row once.

    Where people are too few for a cell of their own their rows are pooled as "other". If those are
    still too few the smallest cell joins them: the rest could else be had by subtraction. Fewer
    people than that in all leave no cell.
    """
    found = [Cell(kind, label, rows) for label, rows in _labelled(evidence, kind)]
    return pooled(found, evidence.reporter, fewest)


def pooled(found: list[Cell], reporter: NDArray[np.int64], fewest: int) -> list[Cell]:
    """Return cells of which none has fewer people than `fewest`, together the same rows."""
    by_size = sorted(found, key=lambda cell: (people(reporter, cell.rows), cell.label or ""))
    other = np.zeros(len(reporter), dtype=bool)
    while by_size and (
        people(reporter, by_size[0].rows) < fewest or 0 < people(reporter, other) < fewest
    ):
        other = other | by_size.pop(0).rows
    kept = [cell for cell in found if any(cell is one for one in by_size)]
    if people(reporter, other) >= fewest:
        kept.append(Cell(found[0].kind, OTHER, other))
    return kept


def nobody_stands_out(reporter: NDArray[np.int64], rows: Rows) -> bool:
    """Return whether rows that can be had by subtraction are of nobody or of ten people or more."""
    left = people(reporter, rows)
    return left == 0 or left >= FEWEST_REPORTERS_SHOWN


def _labelled(evidence: Evidence, kind: str) -> Iterator[tuple[str, Rows]]:
    values = evidence.columns[kind]
    width = 1 if kind == "yarn_weight" else BAND_MM
    numbers = np.floor(values / width).astype(np.int64)
    for number in np.unique(numbers).tolist():
        yield _label(kind, number), numbers == number


def _label(kind: str, number: int) -> str:
    if kind == "yarn_weight":
        return f"{number} {_YARNS[number]}"
    return f"{number * BAND_MM} to {(number + 1) * BAND_MM} mm"
