"""What a number in a report may be: one description, used by JSON, CSV and documentation alike."""

from __future__ import annotations

import math
from dataclasses import dataclass

from models.domain.errors import Fault


@dataclass(frozen=True)
class Quantity:
    """A number that people give: its name, unit, limits and meaning.

    `name` is also the JSON key and the CSV column. `low` and `high` are inclusive; they hold
    what can be real, not what is usual.
    """

    name: str
    low: float
    high: float
    unit: str
    text: str
    integer: bool = False
    required: bool = True

    @property
    def wanted(self) -> str:
        """A phrase that says what would be right."""
        kind = "a whole number" if self.integer else "a number"
        unit = f" ({self.unit})" if self.unit else ""
        return f"it must be {kind} from {self.low:g} to {self.high:g}{unit}"

    def fault(self, value: object) -> Fault | None:
        """Return what is wrong with a value, or None.

        >>> STITCHES_PER_10CM.fault(30) is None
        True
        >>> str(STITCHES_PER_10CM.fault(-3))
        'stitches_per_10cm is -3: it must be a number from 4 to 80 (stitches)'
        """
        if value is None:
            return Fault(self.name, None, self.wanted) if self.required else None
        if not _is_number(value) or (self.integer and not isinstance(value, int)):
            return Fault(self.name, value, self.wanted)
        if not self.low <= value <= self.high:  # type: ignore[operator]
            return Fault(self.name, value, self.wanted)
        return None


def _is_number(value: object) -> bool:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return False
    return isinstance(value, int) or math.isfinite(value)


STITCHES_PER_10CM = Quantity(
    "stitches_per_10cm", 4, 80, "stitches", "Stitches in 10 cm of washed fabric knitted in rounds."
)
ROUNDS_PER_10CM = Quantity(
    "rounds_per_10cm", 4, 120, "rounds", "Rounds in 10 cm of washed fabric knitted in rounds."
)
GAUGE = (STITCHES_PER_10CM, ROUNDS_PER_10CM)

YARN_WEIGHT = Quantity(
    "yarn_weight", 0, 7, "", "Category of the Standard Yarn Weight System.", integer=True
)
HEEL_STITCHES = Quantity(
    "heel_stitches", 8, 400, "stitches", "Stitches around the opening, both edges.", integer=True
)
DECREASES_PER_ROUND = Quantity(
    "decreases_per_round", 2, 16, "stitches", "Stitches lost in one decrease round.", integer=True
)
USUAL_DECREASES_PER_ROUND = 4
"""Two at each of the two corners (common practice, no source)."""

CLOSING_STITCHES = Quantity(
    "closing_stitches", 2, 200, "stitches", "Stitches left to graft or gather.", integer=True
)
FIT_SCORES = {
    -2: "far too shallow",
    -1: "a little shallow",
    0: "just right",
    1: "a little deep",
    2: "far too deep",
}
"""The just-about-right scale of sensory science, about the depth of a heel."""

FIT_SCORE = Quantity(
    "fit_score",
    -2,
    2,
    "",
    ", ".join(f"{score} {words}" for score, words in FIT_SCORES.items()) + ".",
    integer=True,
)
TIMES_WASHED = Quantity(
    "times_washed", 0, 10_000, "", "Washes so far.", integer=True, required=False
)
TIMES_WORN = Quantity("times_worn", 0, 10_000, "", "Wearings so far.", integer=True, required=False)
