"""What can be chosen: numbers of slow-decrease rounds, and of plain rounds beside them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from models.domain.policy import PLAIN_ROUNDS_TO_CHOOSE
from models.learning.decide import Decided
from models.learning.question import Prepared

LEAST_GAIN = 0.005
"""Of chance: a fine adjustment that gains less is not worth the words."""

_EQUAL = 1e-9


class Candidate(NamedTuple):
    """One number of slow-decrease rounds with its depth (mm) and chances, which sum to 1.

    "Too shallow" is a score below 0, "too deep" one above.
    """

    slow_decrease_rounds: int
    depth_mm: float
    chance_just_right: float
    chance_too_shallow: float
    chance_too_deep: float


@dataclass(frozen=True)
class FineAdjustment:
    """Plain rounds, chosen together with the slow-decrease rounds of a candidate."""

    plain_rounds: int
    candidate: Candidate


def curve_of(asked: Prepared, decided: Decided) -> tuple[Candidate, ...]:
    """Return every candidate with the plain rounds that were asked for."""
    depths = asked.asked_mm
    n = len(depths)
    columns = (decided.chances[:n], decided.too_shallow[:n], decided.too_deep[:n])
    return tuple(
        map(Candidate, range(n), depths.tolist(), *(column.tolist() for column in columns))
    )


def fine_adjustment(asked: Prepared, decided: Decided, best: float) -> FineAdjustment | None:
    """Return the best pair of plain and slow-decrease rounds, or None where it gains nothing.

    Pairs of one depth have one chance; the plain rounds nearest to those asked for are preferred.

    Parameters
    ----------
    asked : Prepared
        The question.
    decided : Decided
        Chances of all its depths, the plain rounds asked for first.
    best : float
        The best chance with the plain rounds asked for.

    """
    slow = len(asked.asked_mm)
    first = 0 if asked.plain_rounds[0] in PLAIN_ROUNDS_TO_CHOOSE else slow
    chances = decided.chances[first:]
    most = float(chances.max())
    if most - best < LEAST_GAIN:
        return None
    at = first + int(np.argmax(chances >= most - _EQUAL))
    candidate = Candidate(
        at % slow,
        float(asked.depths_mm.flat[at]),
        float(decided.chances[at]),
        float(decided.too_shallow[at]),
        float(decided.too_deep[at]),
    )
    return FineAdjustment(asked.plain_rounds[at // slow], candidate)
