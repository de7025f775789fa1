"""Gauge: how many stitches and rounds make 10 cm of the washed fabric."""

from __future__ import annotations

from dataclasses import dataclass

from models.domain.errors import Fault, Invalid
from models.domain.quantities import GAUGE


@dataclass(frozen=True)
class Gauge:
    """Stitches and rounds per 10 cm, measured on washed fabric knitted in rounds.

    Raises
    ------
    Invalid
        Where either number is outside what can be knitted by hand.

    """

    stitches_per_10cm: float
    rounds_per_10cm: float

    def __post_init__(self) -> None:
        faults = [quantity.fault(getattr(self, quantity.name)) for quantity in GAUGE]
        if found := [fault for fault in faults if fault is not None]:
            raise Invalid(found)

    @property
    def stitch_mm(self) -> float:
        """Width of one stitch in mm."""
        return 100 / self.stitches_per_10cm

    @property
    def round_mm(self) -> float:
        """Height of one round in mm."""
        return 100 / self.rounds_per_10cm


USUAL_ROUNDS_PER_STITCH = (1.0, 1.8)
"""Rounds over stitches per 10 cm outside of which the two are likely swapped or miscounted.

Plain knitting relaxes towards 1.31 (Munden's Kc/Kw, 5.5/4.2); sock-yarn labels run from 1.25 to
1.45 (common practice, no source). The limits leave room on both sides.
"""


def doubts_about_gauge(gauge: Gauge) -> list[Fault]:
    """Return what is unusual about a gauge; it can still be used."""
    ratio = gauge.rounds_per_10cm / gauge.stitches_per_10cm
    low, high = USUAL_ROUNDS_PER_STITCH
    if low <= ratio <= high:
        return []
    wanted = f"plain knitting has {low:g} to {high:g} rounds for each stitch; check the swatch"
    return [Fault("rounds_per_10cm", gauge.rounds_per_10cm, wanted)]
