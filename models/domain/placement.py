"""Where the waste yarn goes: how long to knit the foot, toe-up and cuff-down.

The heel reaches `depth` beyond the waste-yarn line, so toe and foot together are the sock's foot
length less the depth. A sock's foot is knitted about 5 % shorter than the foot (common practice,
no source).
"""

from __future__ import annotations

from dataclasses import dataclass

from models.domain.gauge import Gauge
from models.domain.units import from_mm
from models.domain.wording import counted

LENGTH_EASE = -0.05

_SHORTER = (
    f"Measured flat; a sock's foot {-LENGTH_EASE:.0%} shorter than the foot is already in it."
)


@dataclass(frozen=True)
class Placement:
    """Length from the tip of the toe to the waste-yarn line in mm and in rounds.

    `opening_stitches` are knitted with waste yarn: the heel half of the round.
    """

    toe_to_waste_yarn_mm: float
    toe_to_waste_yarn_rounds: int
    opening_stitches: int

    @property
    def toe_up(self) -> str:
        """How to find the line when the toe is knitted first, in mm."""
        return self.toe_up_in("mm")

    @property
    def cuff_down(self) -> str:
        """How to find the line when the cuff is knitted first, in mm."""
        return self.cuff_down_in("mm")

    def toe_up_in(self, unit: str) -> str:
        """Return how to find the line when the toe is knitted first, measured in mm or inches."""
        return (
            f"Toe-up: knit toe and foot until the sock measures {self._length(unit)} from the tip "
            f"of the toe. {_SHORTER} {self._knit_in} Go on with the leg."
        )

    def cuff_down_in(self, unit: str) -> str:
        """Return how to find the line when the cuff is knitted first, measured in mm or inches."""
        return (
            "Cuff-down: knit the leg down to the front of the ankle bend. "
            f"{self._knit_in} From that line knit foot and toe together {self._length(unit)}: "
            f"begin the toe when what is left is as long as your toe. {_SHORTER}"
        )

    @property
    def _knit_in(self) -> str:
        return (
            f"Knit the heel half of the round, {self.opening_stitches} stitches, with waste yarn, "
            "slip these stitches back to the left needle and knit them again with the sock yarn."
        )

    def _length(self, unit: str) -> str:
        """Return the length to a millimetre, or to a tenth of an inch."""
        rounds = counted(self.toe_to_waste_yarn_rounds, "round")
        length = from_mm(self.toe_to_waste_yarn_mm, unit)
        return f"{length:.{1 if unit == 'in' else 0}f} {unit} (about {rounds})"


def waste_yarn(
    foot_length_mm: float, depth_mm: float, gauge: Gauge, opening_stitches: int
) -> Placement | None:
    """Return where the waste yarn goes for a foot and a heel depth, both in mm.

    None where the heel would be as long as the whole foot of the sock.

    >>> waste_yarn(250, 60, Gauge(30, 42), 32).toe_to_waste_yarn_mm
    177.5

    """
    length = foot_length_mm * (1 + LENGTH_EASE) - depth_mm
    if not length > 0:
        return None
    return Placement(length, round(length / gauge.round_mm), opening_stitches)
