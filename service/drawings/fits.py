"""Five small heels, from far too shallow to far too deep: how a sock meets the heel of a foot.

The foot is the same in all of them; the sock's heel is moved in or out by a step for each step of
the fit score. Drawn by eye, in units of the drawing.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from service.drawings.outline import Point, shown

WIDTH, HEIGHT = 96, 84

FOOT = (
    "M34,0 C34,16 35,26 33,36 C31,46 22,50 22,62 C22,72 28,76 38,76 L96,76 L96,46 "
    "C80,42 68,34 66,0 Z"
)
"""The back of a foot with its leg, toes to the right and out of the picture."""

_STEP = 7.0
"""How far the sock's heel is moved for one step of the score."""

_INSTEP: Point = (67.0, 34.0)
_STRAINS = ((2.0, 6.0), (9.0, 16.0))
"""Where wrinkles of strain start below the instep, and how far they reach towards the heel."""


@dataclass(frozen=True)
class FitDrawing:
    """The heel of a sock of one fit score: its outline, and wrinkles where it is strained."""

    score: int
    sock: str
    strains: tuple[str, ...]

    width = WIDTH
    height = HEIGHT
    foot = FOOT


def fit_drawing(score: int) -> FitDrawing:
    """Return the drawing of a fit score.

    >>> [len(fit_drawing(score).strains) for score in range(-2, 3)]
    [4, 2, 0, 0, 0]
    """
    out = _STEP * score
    back, low, corner = (22 - out, 60.0), (40.0, 77 + max(out, 0) / 3), (24 - out, 75 + out / 3)
    turns = (
        ((34.0, 16.0), (35.0, 26.0), (33.0 - max(out, 0) / 3, 36.0)),
        ((31.0 - out / 2, 46.0), (back[0], 50.0), back),
        ((back[0], 70 + out / 4), corner, low),
    )
    drawn = " ".join(f"C{' '.join(map(shown, turn))}" for turn in turns)
    return FitDrawing(score, f"M34.0,0.0 {drawn} L96.0,77.0", tuple(_strains(-score)))


def _strains(tightness: int) -> Iterator[str]:
    """Yield wrinkles from the instep towards the heel, two for each step of tightness."""
    x, y = _INSTEP
    for step in range(max(tightness, 0)):
        for down, reach in _STRAINS:
            top = (x - 4 * step, y + down + 13 * step - 8)
            yield f"M{shown(top)} L{shown((top[0] - reach - 8, top[1] + reach / 2 + 5))}"
