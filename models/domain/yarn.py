"""Yarn weights: the Standard Yarn Weight System.

References
----------
Craft Yarn Council, Standard Yarn Weight System (stockinette stitches per 4 inches). The Council
calls its figures guidelines; lace is often knitted more loosely than its row says.

"""

from __future__ import annotations

from dataclasses import dataclass

from models.domain.errors import Fault
from models.domain.units import per_10cm


@dataclass(frozen=True)
class YarnWeight:
    """One category: its number, name and guideline stitches per 4 inches of stockinette."""

    number: int
    name: str
    stitches_per_4in: tuple[int, int]

    @property
    def stitches_per_10cm(self) -> tuple[float, float]:
        """The guideline in stitches per 10 cm."""
        low, high = self.stitches_per_4in
        return per_10cm(low, 4, "in"), per_10cm(high, 4, "in")

    @property
    def usual_for_socks(self) -> tuple[float, float]:
        """The stitches per 10 cm beyond which yarn weight or gauge is likely mistaken."""
        low, high = self.stitches_per_10cm
        return low * _LOOSEST, high * _FIRMEST


YARN_WEIGHTS = (
    YarnWeight(0, "lace", (33, 40)),
    YarnWeight(1, "super fine", (27, 32)),
    YarnWeight(2, "fine", (23, 26)),
    YarnWeight(3, "light", (21, 24)),
    YarnWeight(4, "medium", (16, 20)),
    YarnWeight(5, "bulky", (12, 15)),
    YarnWeight(6, "super bulky", (7, 11)),
    YarnWeight(7, "jumbo", (1, 6)),
)

# Socks are knitted more firmly than the guideline's stockinette (common practice, no source),
# so only a gauge far outside the row says that yarn weight or gauge is mistaken.
_FIRMEST = 1.5
_LOOSEST = 0.6


def doubt_about_yarn(number: int, stitches_per_10cm: float) -> Fault | None:
    """Return a doubt where the gauge is far from what the yarn weight knits to."""
    weight = next(weight for weight in YARN_WEIGHTS if weight.number == number)
    least, most = weight.usual_for_socks
    if least <= stitches_per_10cm <= most:
        return None
    low, high = weight.stitches_per_10cm
    wanted = (
        f"far from yarn weight {number} ({weight.name}), whose guideline is {low:.0f} to "
        f"{high:.0f}; check both"
    )
    return Fault("stitches_per_10cm", stitches_per_10cm, wanted)
