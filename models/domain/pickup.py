"""Picking up the heel: how many loops the waste yarn leaves, and how to tell a wrong count."""

from __future__ import annotations

from dataclasses import dataclass

from models.domain.wording import counted

MOST_EXTRA_LOOPS = 4
"""Loops beyond 2n that knitters pick up to close the corners (common practice, no source)."""


@dataclass(frozen=True)
class PickUp:
    """Loops around the opening of a heel.

    A row of n stitches leaves n loops on its lower edge and the n - 1 gaps between them on its
    upper edge, 2n - 1 together (common practice, no source); what is missing to the heel stitches
    is picked up at the corners.
    """

    heel_stitches: int

    @property
    def lower(self) -> int:
        """Loops on the lower edge: the stitches that were knitted with waste yarn."""
        return (self.heel_stitches + 1) // 2

    @property
    def upper(self) -> int:
        """Loops on the upper edge, one fewer than on the lower."""
        return self.lower - 1

    @property
    def from_corners(self) -> int:
        """Stitches to make at the corners so that the heel stitches are reached."""
        return self.heel_stitches - self.lower - self.upper

    @property
    def quarters(self) -> tuple[int, int, int, int]:
        """Stitches of the four quarters, equal or differing by one, in the order of knitting."""
        first_edge, second_edge = self.lower, self.heel_stitches - self.lower
        halves = (first_edge, second_edge)
        first, second, third, fourth = (n for e in halves for n in (e - e // 2, e // 2))
        return first, second, third, fourth

    @property
    def fewest(self) -> int:
        """Loops around the opening before a stitch is made at a corner."""
        return self.lower + self.upper

    @property
    def most(self) -> int:
        """Loops around the opening with as many lifted at the corners as can be right."""
        return 2 * self.lower + MOST_EXTRA_LOOPS

    def paragraphs(self) -> tuple[str, ...]:
        """Return the picking-up in words."""
        return (self._expect(), self._check(), self._corners(), self._quarters())

    def _expect(self) -> str:
        return (
            "Slide a needle through the loops on each side of the waste yarn, then unpick it. "
            f"Expect {self.lower} loops on the lower edge (knitted before the waste yarn: the toe "
            "side of a toe-up sock, the leg side of a cuff-down one) and "
            f"{self.upper} on the upper edge (knitted after it): {self.lower + self.upper} in all."
        )

    def _check(self) -> str:
        return (
            f"Count each edge before you knit. Lower edge: {self.lower + 1} is one too many, a "
            "split loop or the stitch beside the opening, so let it go; "
            f"{self.lower - 1} is one too few, so look for a loop that slipped back under its "
            f"neighbour. Upper edge: {self.upper + 1} is one too many, the half loop at its end, "
            f"which may serve as the corner stitch; {self.upper - 1} is one too few, so look for a "
            "gap that was jumped."
        )

    def _corners(self) -> str:
        make = (
            f"Make {counted(self.from_corners, 'stitch')} at the end of the upper edge: lift the "
            "strand between the edges and knit it twisted, so that you have "
            f"{self.heel_stitches}."
            if self.from_corners
            else f"You have {self.heel_stitches} without a stitch from the corners."
        )
        return (
            "Join the yarn at the corner where the lower edge begins, leaving a tail to close the "
            f"hole there, and knit each loop through the leg that keeps it from twisting; this "
            f"round counts as none of the rounds below. {make} "
            "If a hole shows at a corner, lift one or two more strands there and knit each "
            "together with its neighbour when you first come to it; these are not counted."
        )

    def _quarters(self) -> str:
        one, two, three, four = self.quarters
        return (
            "Put a marker at each of the two corners and one in the middle of each edge: quarters "
            f"of {one}, {two}, {three} and {four} stitches. The round begins at a corner, with the "
            "lower edge."
        )
