"""Where the tape goes, for every measurement of the registry."""

from __future__ import annotations

from dataclasses import dataclass

from models.domain.anthropometry import pooled
from service.drawings.outline import (
    ANKLE_BEND,
    HEEL_TIP,
    WIDTH,
    Outline,
    Point,
    outline,
    shown,
)


@dataclass(frozen=True)
class Tape:
    """Where a tape is seen in the side view: from one point to another, bent by a third.

    A straight one (`bend` None) is laid beside the foot.
    """

    words: str
    start: Point
    end: Point
    bend: Point | None = None


TAPES = {
    "foot_length_mm": Tape(
        "A tape under a foot seen from the side, from the back of the heel to the tip of the "
        "longest toe.",
        (0.0, -0.07),
        (1.0, -0.07),
    ),
    "foot_circumference_mm": Tape(
        "A tape around the ball of a foot, where it is widest.",
        (0.70, 0.0),
        (0.70, 0.187),
        (0.765, 0.09),
    ),
    "heel_diagonal_mm": Tape(
        "A tape around a foot, aslant: around the back of the heel at its lowest, and over the "
        "front of the ankle bend.",
        HEEL_TIP,
        ANKLE_BEND,
        (0.27, 0.16),
    ),
    "ankle_circumference_mm": Tape(
        "A tape around a leg just above the ankle bones, where it is thinnest.",
        (0.084, 0.5),
        (0.377, 0.5),
        (0.23, 0.455),
    ),
}


@dataclass(frozen=True)
class TapeDrawing:
    """A foot seen from the side with the tape of one measurement."""

    words: str
    outline: Outline
    path: str
    ends: tuple[Point, Point] | None

    width = WIDTH

    @property
    def height(self) -> float:
        """Height of the drawing."""
        return self.outline.ground + (36 if self.ends else 8)


def tape_drawing(name: str) -> TapeDrawing:
    """Return the drawing of a measurement on the survey's mean foot.

    >>> from models.domain.foot import MEASUREMENTS
    >>> [tape_drawing(m.name).words[:6] for m in MEASUREMENTS]
    ['A tape', 'A tape', 'A tape', 'A tape']
    """
    tape = TAPES[name]
    drawn = outline(pooled()[0])
    start, end = drawn.at(tape.start), drawn.at(tape.end)
    if tape.bend is None:
        return TapeDrawing(tape.words, drawn, f"M{shown(start)} L{shown(end)}", (start, end))
    path = f"M{shown(start)} Q{shown(drawn.at(tape.bend))} {shown(end)}"
    return TapeDrawing(tape.words, drawn, path, None)
