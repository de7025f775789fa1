"""How one decrease round is worked, in words."""

from __future__ import annotations

from models.domain.wording import counted

_SSK = "slip 2 stitches knitwise one by one and knit them together through the back"

_STITCHES_OF_EDGE = 6
"""What the decreases of one edge and the plain stitch beside each take."""

_SHORT_EDGE = " When an edge has only 4 stitches or 5, leave out the plain stitch at each end."


def decrease_round(decreases_per_round: int, closing_stitches: int) -> str:
    """Return how to work every decrease round of a heel.

    Four decreases are paired at the two corners, which makes a flat heel with a line of decreases
    at each side; any other number is spread evenly, one at the end of each of as many equal parts.
    """
    if decreases_per_round == 4:
        short = closing_stitches // 2 + 2 < _STITCHES_OF_EDGE
        return (
            f"Decrease round: on each edge, from corner to corner, knit 1, {_SSK}, knit to 3 "
            "stitches before the corner, knit 2 together, knit 1. Each quarter loses 1 stitch, 4 "
            f"in all; count the quarters after every decrease round.{_SHORT_EDGE * short}"
        )
    return (
        "Decrease round: before the first one, take out the markers except the one where the round "
        f"begins and divide the stitches by markers into {decreases_per_round} equal parts; then "
        "in each part knit to 2 stitches before its marker and knit 2 together, "
        f"{counted(decreases_per_round, 'stitch')} fewer in all."
    )


def even_out(remainder: int, heel_stitches: int, decreases_per_round: int) -> str:
    """Return how to lose a remainder in the first plain round."""
    where = "once in each larger quarter" if decreases_per_round == 4 else "spread evenly"
    return (
        f"In the first, knit 2 together {counted(remainder, 'time')}, {where}, so that "
        f"{heel_stitches - remainder} stitches are left and the decreases come out even."
    )
