"""Choosing the slow-decrease rounds of all sizes of a design together.

Sizes are graded: what a larger foot gets should not fall back behind a smaller one where the
geometry asks for at least as much, and neighbours must not lie far apart. How much geometry asks
for depends on each size's stitches and gauge as well as on its feet: a size that gains heel
stitches faster than feet grow asks for fewer rounds, and then fewer is right.

Falling back has a price instead of being forbidden. Before any report the best table hardly ever
falls, so the rule only mends what rounding and few reports do; it must give way where many reports
say that geometry is wrong about the order of the sizes.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from models.learning.evidence import Column

LONGEST_JUMP = 2
"""Slow-decrease rounds by which neighbouring sizes may differ unless the designer says so."""

FALLING_BACK = 0.03
"""Mean chance of just right that a size must gain to fall back behind a smaller one."""

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
        Whether geometry asks for at least as many on each next size as on the one before.
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
        price = _price(len(total), len(value), must_rise=must_rise, allow_jumps=allow_jumps)
        reached = total[:, None] - price
        came_from.append(np.argmax(reached, axis=0))
        total = np.max(reached, axis=0) + value
    chosen = [int(np.argmax(total))]
    for back in reversed(came_from):
        chosen.append(int(back[chosen[-1]]))
    return chosen[::-1]


def _price(before: int, after: int, *, must_rise: bool, allow_jumps: bool) -> Column:
    """Return what it costs that two numbers (before, after) stand next to each other."""
    step = np.arange(after)[None, :] - np.arange(before)[:, None]
    price = np.where(must_rise & (step < 0), FALLING_BACK, 0.0)
    return price if allow_jumps else np.where(np.abs(step) > LONGEST_JUMP, np.inf, price)
