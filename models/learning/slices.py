"""How heels of about one depth were scored: what a picture of the reports may show of them.

A picture of single socks would show single people. So socks are taken together by their excess
depth, in slices whose ends never move: two pictures of one slice then differ by whose socks are in
it and by nothing else, which `models.actions.shown_slices` can judge.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.learning.calibration import FEWEST_REPORTERS_SHOWN
from models.learning.clustered import weighted_mean
from models.learning.design import design
from models.learning.evidence import COLUMNS, Column, Evidence, people
from models.learning.folds import Rows
from models.learning.held_out import Foreseen
from models.learning.predictive import expected_scores

WIDTH_MM = 5
"""Width of a slice of excess depth: one slow-decrease round is about 7 mm in fine yarn."""

OUTERMOST = 4
"""Slices on each side of the ideal before the last, which has no outer end."""

_DIGEST_CHARACTERS = 16


def excess_mm(columns: Mapping[str, Column]) -> Column:
    """Return how much deeper each sock (n,) is than the geometry's ideal, mm."""
    return np.asarray(design(columns).excess * 10)


def numbers_of(excess: Column) -> NDArray[np.int64]:
    """Return the slice that each sock (n,) of some excess depth, mm, is in."""
    found = np.clip(np.floor(excess / WIDTH_MM), -OUTERMOST - 1, OUTERMOST)
    return np.asarray(found, dtype=np.int64)


def slices(evidence: Evidence, foreseen: Foreseen) -> list[dict[str, Any]]:
    """Return the slices of ten people or more, from the shallowest on, as JSON values.

    Each has its `number` (`label` puts it in words), the mean `excess_mm`, the mean score
    `reported` with its clustered `standard_error`, the mean that was `foreseen` of people left out,
    and `rows`: every reporter in it, by number in the evidence, in a pair with a digest of what
    those reports say. The rows are for `models.actions.shown_slices` and never shown.
    """
    excess = excess_mm(evidence.columns)
    numbers = numbers_of(excess)
    expected = expected_scores(foreseen.chances)[0]
    return [
        _slice(evidence, number, rows, excess[rows], expected[rows])
        for number in np.unique(numbers).tolist()
        if people(evidence.reporter, rows := numbers == number) >= FEWEST_REPORTERS_SHOWN
    ]


def label(number: int) -> str:
    """Return what a slice holds, in words.

    >>> label(-5), label(-1), label(2)
    ('more than 20 mm shallower', '5 to 0 mm shallower', '10 to 15 mm deeper')
    >>> label(4)
    '20 mm deeper or more'
    """
    low, high = number * WIDTH_MM, (number + 1) * WIDTH_MM
    if number < -OUTERMOST:
        return f"more than {-high} mm shallower"
    if number >= OUTERMOST:
        return f"{low} mm deeper or more"
    return f"{-low} to {-high} mm shallower" if number < 0 else f"{low} to {high} mm deeper"


def middle_mm(number: int) -> float:
    """Return where a slice is drawn by itself, mm: its middle, were the last ones as wide too."""
    return (number + 0.5) * WIDTH_MM


def _slice(
    evidence: Evidence, number: int, rows: Rows, excess: Column, expected: Column
) -> dict[str, Any]:
    score = evidence.score[rows]
    reported = weighted_mean(score, np.ones(len(score)))
    return {
        "number": number,
        "excess_mm": float(excess.mean()),
        "reported": reported.value,
        "foreseen": float(expected.mean()),
        "standard_error": reported.standard_error(evidence.reporter[rows]),
        "rows": list(_told(evidence.only(rows))),
    }


def _told(evidence: Evidence) -> Iterator[list[Any]]:
    """Yield every reporter with a digest of what that reporter's rows say."""
    table = np.column_stack([evidence.columns[name] for name in COLUMNS]).astype("<f8")
    for reporter in np.unique(evidence.reporter).tolist():
        said = np.ascontiguousarray(table[evidence.reporter == reporter]).tobytes()
        yield [reporter, hashlib.sha256(said).hexdigest()[:_DIGEST_CHARACTERS]]
