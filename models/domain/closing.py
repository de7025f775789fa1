"""Closing the heel: a registry of ways, each with its own words."""

from __future__ import annotations

from collections.abc import Callable

from models.domain.wording import counted


def _graft(stitches: int) -> str:
    if stitches % 2:
        odd = f"Knit 2 together once so that {stitches - 1} stitches are left. "
        return odd + _graft(stitches - 1)
    return (
        f"Lay the {stitches} stitches on two needles, {stitches // 2} on each, corner to corner. "
        "Break the yarn, leaving a tail four times as long as the seam, and graft the two together,"
        " pulling only as tight as a knitted row."
    )


def _gather(stitches: int) -> str:
    return (
        f"Break the yarn, thread it twice through the {counted(stitches, 'stitch')} and pull the "
        "ring closed; fasten the end inside, where it does not press on the heel."
    )


CLOSINGS: dict[str, Callable[[int], str]] = {"graft": _graft, "gather": _gather}
"""Ways to close, by name; each returns its words for a number of closing stitches."""

USUAL_CLOSING = "graft"
