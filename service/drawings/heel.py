"""The heel in profile on the outline of the foot, to scale.

Seen from the side the heel is a wedge: its waste-yarn line runs from the sole to the corner beside
the ankle and on to the back of the leg, and every round lies parallel to it, up to the close. Along
the sole and the back a round lies as far from the heel's end as it is knitted; along the heel
diagonal, half of the girth is drawn from the ankle bend to the heel tip: half an edge of the
opening, the depth, half of the close.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from models.domain.geometry import across_mm, girth_mm
from models.domain.placement import LENGTH_EASE
from models.domain.sections import SECTIONS
from models.domain.worksheet import Worksheet
from service.drawings.outline import LENGTH, MARGIN, WIDTH, Outline, Point, between, outline, shown


@dataclass(frozen=True)
class Band:
    """The rounds of one section: where they lie, and how many with what depth in mm."""

    key: str
    points: str
    rounds: int
    depth_mm: float


@dataclass(frozen=True)
class HeelInProfile:
    """A heel on its foot, in units of the drawing.

    `sheet` must know its foot; `foot_length_mm` is that foot's.
    """

    sheet: Worksheet
    foot_length_mm: float
    outline: Outline

    width = WIDTH

    @property
    def height(self) -> float:
        """Height of the drawing with its dimension lines."""
        return self.outline.ground + 74

    @property
    def heel_end(self) -> float:
        """The x of the heel's end, where depth and foot length are measured from."""
        return MARGIN

    @property
    def toe_end(self) -> float:
        """The x of the tip of the toe."""
        return MARGIN + LENGTH

    @property
    def sole_line(self) -> float:
        """The x where the waste-yarn line meets the sole."""
        return MARGIN + self._along(self.sheet.depth_mm)

    @property
    def corner(self) -> Point:
        """The corner of the opening beside the ankle."""
        return self._corner(0.0)

    @property
    def waste_yarn_line(self) -> str:
        """The waste-yarn line, from the back of the leg to the sole."""
        return " ".join(map(shown, self._round_at(0.0)))

    @cached_property
    def bands(self) -> list[Band]:
        """The sections that have rounds, from the waste-yarn line on, and the close."""
        return [*self._bands()]

    def _bands(self) -> Iterator[Band]:
        counts, done = self.sheet.schedule.counts, 0.0
        for section in SECTIONS:
            rounds = counts[section.count.name] * section.rounds_each
            depth = rounds * self.sheet.gauge.round_mm
            if rounds:
                yield Band(section.key, self._points(done, done + depth), rounds, depth)
            done += depth
        yield Band("close", self._points(done, done), 0, 0.0)

    def _points(self, start: float, end: float) -> str:
        """Return the strip between two depths, or all beyond where they are the same."""
        beyond = [self.outline.at((0.0, 0.0))] if start == end else self._round_at(end)[::-1]
        return " ".join(map(shown, [*self._round_at(start), *beyond]))

    def _round_at(self, depth: float) -> list[Point]:
        left = self._along(self.sheet.depth_mm - depth)
        ground = self.outline.ground
        return [(MARGIN, ground - left), self._corner(depth), (MARGIN + left, ground)]

    def _along(self, knitted_mm: float) -> float:
        """Return units of the drawing for knitting that is stretched over the foot lengthwise."""
        return knitted_mm / (1 + LENGTH_EASE) / self.foot_length_mm * LENGTH

    def _corner(self, depth: float) -> Point:
        schedule, gauge = self.sheet.schedule, self.sheet.gauge
        across = across_mm(
            schedule.heel_stitches, schedule.closing_stitches, gauge.stitches_per_10cm
        )
        half_edge = schedule.heel_stitches / 4 * gauge.stitch_mm
        share = (half_edge + depth) / (girth_mm(across, self.sheet.depth_mm) / 2)
        return between(self.outline.ankle_bend, self.outline.heel_tip, share)


def heel_in_profile(sheet: Worksheet, foot: dict[str, float]) -> HeelInProfile:
    """Return the drawing of a worked-out schedule on its foot."""
    return HeelInProfile(sheet, foot["foot_length_mm"], outline(foot))
