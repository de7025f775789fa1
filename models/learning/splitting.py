"""Where one heel cannot serve a whole size: the measurement and the cut that would help most."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from models.domain.foot import MEASUREMENT_NAMES
from models.learning.decide import Figures
from models.learning.evidence import Column
from models.learning.outcomes import SizeHeel, shares

WORTH_IT = 0.03
"""Gain in the mean chance of just right from which on a split is named."""

_STEP_MM = 5.0
_SMALLEST_SIDE = 0.1


@dataclass(frozen=True)
class Split:
    """On one side of `cut_mm` of a measurement, one round more or fewer than the default.

    `above` says which side, `change` is +1 or -1, `gain` what it adds to the mean chance of just
    right over the whole size.
    """

    measurement: str
    cut_mm: float
    above: bool
    change: int
    gain: float


def best_split(figures: Figures, size: SizeHeel, plain_rounds: int, slow: int) -> Split | None:
    """Return the most helpful split of a size, or None where none gains `WORTH_IT`.

    All cuts at whole 5 mm of every measurement are tried that leave a tenth of the people on each
    side.
    """
    changes = [change for change in (1, -1) if 0 <= slow + change <= size.most]
    steps = size.steps_cm(plain_rounds)[[slow, *(slow + change for change in changes)]]
    chances = shares(figures, size.terms, steps).just_right
    gained = size.feet.weight[:, None] * (chances[:, 1:] - chances[:, :1])
    found = [
        Split(name, cut, above, change, float(gained[side, k].sum()))
        for name, cut, above, side in _sides(size)
        for k, change in enumerate(changes)
    ]
    best = max(found, key=lambda split: split.gain, default=None)
    return best if best is not None and best.gain >= WORTH_IT else None


def _sides(size: SizeHeel) -> Iterator[tuple[str, float, bool, Column]]:
    """Yield measurement, cut, whether it is the side above, and its rows."""
    for name in MEASUREMENT_NAMES:
        values = size.feet.columns[name]
        first = np.ceil(values.min() / _STEP_MM) * _STEP_MM
        for cut in np.arange(first, values.max(), _STEP_MM):
            above = values > cut
            share = float(size.feet.weight[above].sum())
            if _SMALLEST_SIDE <= share <= 1 - _SMALLEST_SIDE:
                yield name, float(cut), True, above
                yield name, float(cut), False, ~above
