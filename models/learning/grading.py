"""Choosing the slow-decrease rounds of all sizes of a design together.

Sizes are graded: what a larger foot gets must not fall back behind a smaller one where the
geometry asks for at least as much, and neighbours must not lie far apart. How much geometry asks
for depends on each size's stitches and gauge as well as on its feet: a size that gains heel
stitches faster than feet grow asks for fewer rounds, and then fewer is right.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from models.learning.evidence import Column

LONGEST_JUMP = 2
"""Slow-decrease rounds by which neighbouring sizes may differ unless the designer says so."""

_TIE = 1e-9


def graded(
    values: Sequence[Column],
    rising: Sequence[bool],
    today: Sequence[int],
    *,
    allow_jumps: bool = False,
) -> list[int]:
    """Return the sequence of highest total value that keeps the rules, by dynamic programming.

    Parameters
    ----------
    values : sequence of arrays (S,)
        For each size, by foot size, what every number of slow-decrease rounds is worth.
    rising : sequence of bool, one shorter
        Whether each next size must have at least as many as the one before.
    today : sequence of int
        What the sizes have now, which decides between equals.
    allow_jumps : bool
        Whether neighbours may differ by more than `LONGEST_JUMP`.

    >>> graded([np.array([0, 1, 0, 0]), np.array([0.9, 0, 0, 1])], [True], [0, 0])
    [1, 3]
    >>> graded([np.array([1, 0, 0, 0]), np.array([0, 0, 0.5, 1])], [True], [0, 0])
    [0, 2]

    """
    scored = [
        np.asarray(value, dtype=float) - _TIE * np.abs(np.arange(len(value)) - now)
        for value, now in zip(values, today, strict=True)
    ]
    total, came_from = scored[0], []
    for value, must_rise in zip(scored[1:], rising, strict=True):
        allowed = _allowed(len(total), len(value), must_rise=must_rise, allow_jumps=allow_jumps)
        reached = np.where(allowed, total[:, None], -np.inf)
        came_from.append(np.argmax(reached, axis=0))
        total = np.max(reached, axis=0) + value
    chosen = [int(np.argmax(total))]
    for back in reversed(came_from):
        chosen.append(int(back[chosen[-1]]))
    return chosen[::-1]


def _allowed(before: int, after: int, *, must_rise: bool, allow_jumps: bool) -> Column:
    """Return which pairs (before, after) of numbers may stand next to each other."""
    step = np.arange(after)[None, :] - np.arange(before)[:, None]
    allowed = np.ones_like(step, dtype=bool)
    if must_rise:
        allowed &= step >= 0
    if not allow_jumps:
        allowed &= np.abs(step) <= LONGEST_JUMP
    return allowed
