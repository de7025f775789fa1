"""Cells of socks of one kind, none of them of few people, and none to be had by subtraction.

References
----------
Willenborg, L. and de Waal, T. (2001). Elements of Statistical Disclosure Control, Springer, on
complementary suppression (from memory).

"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.domain.yarn import YARN_WEIGHTS
from models.learning.calibration import FEWEST_REPORTERS_SHOWN
from models.learning.evidence import Evidence, people
from models.learning.evidence_blocks import EvidenceBlocks
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

    def of(places: Sequence[int]) -> Rows:
        nobody = np.zeros(len(reporter), dtype=bool)
        return np.asarray(np.any([nobody, *(found[place].rows for place in places)], axis=0))

    labels = [cell.label or "" for cell in found]
    kept, others = enough(labels, lambda places: people(reporter, of(places)), fewest)
    together = [Cell(found[0].kind, OTHER, of(others))] if others else []
    return [*(found[place] for place in kept), *together]


def enough(
    labels: Sequence[str], people_of: Callable[[Sequence[int]], int], fewest: int
) -> tuple[list[int], list[int]]:
    """Return the places of cells of people enough, and of those that are pooled as "other".

    `people_of` counts the people of some cells together, by their places.
    """
    by_size = sorted(range(len(labels)), key=lambda place: (people_of([place]), labels[place]))
    others: list[int] = []
    while by_size and (people_of(by_size[:1]) < fewest or 0 < people_of(others) < fewest):
        others.append(by_size.pop(0))
    return sorted(by_size), others if people_of(others) >= fewest else []


def tallies(evidence: EvidenceBlocks, kind: str, fewest: int) -> list[dict[str, Any]]:
    """Return label, reports and people of the cells that `cells` finds, from sums over blocks."""
    found = evidence.blocks.each(partial(_tallied, kind=kind))
    reports = sum((tally.reports for tally in found), Counter[int]())
    sets = sum((tally.people for tally in found), Counter[int]())
    numbers = sorted(reports)
    labels = [_label(kind, number) for number in numbers]

    def told(places: Sequence[int], label: str) -> dict[str, Any]:
        count = sum(reports[numbers[place]] for place in places)
        return {"label": label, "reports": count, "people": people_of(places)}

    def people_of(places: Sequence[int]) -> int:
        mask = sum(1 << numbers[place] for place in places)
        return sum(people for those, people in sets.items() if those & mask)

    kept, others = enough(labels, people_of, fewest)
    together = [told(others, OTHER)] if others else []
    return [*(told([place], labels[place]) for place in kept), *together]


@dataclass(frozen=True)
class _Tally:
    """Reports by the number of their band, and people by the set of theirs: bits of a number."""

    reports: Counter[int]
    people: Counter[int]


def _tallied(evidence: Evidence, kind: str) -> _Tally:
    order = np.argsort(evidence.reporter, kind="stable")
    numbers = _numbers(evidence, kind)[order]
    _, firsts = np.unique(evidence.reporter[order], return_index=True)
    # Bands are few: no measurement that can be recorded is longer than 63 bands of 20 mm.
    sets = np.bitwise_or.reduceat(np.left_shift(1, numbers), firsts) if len(firsts) else numbers
    return _Tally(Counter(numbers.tolist()), Counter(sets.tolist()))


def nobody_stands_out(reporter: NDArray[np.int64], rows: Rows) -> bool:
    """Return whether rows that can be had by subtraction are of nobody or of ten people or more."""
    left = people(reporter, rows)
    return left == 0 or left >= FEWEST_REPORTERS_SHOWN


def _labelled(evidence: Evidence, kind: str) -> Iterator[tuple[str, Rows]]:
    numbers = _numbers(evidence, kind)
    for number in np.unique(numbers).tolist():
        yield _label(kind, number), numbers == number


def _numbers(evidence: Evidence, kind: str) -> NDArray[np.int64]:
    width = 1 if kind == "yarn_weight" else BAND_MM
    return np.floor(evidence.columns[kind] / width).astype(np.int64)


def _label(kind: str, number: int) -> str:
    if kind == "yarn_weight":
        return f"{number} {_YARNS[number]}"
    return f"{number * BAND_MM} to {(number + 1) * BAND_MM} mm"
