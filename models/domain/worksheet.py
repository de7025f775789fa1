"""A worksheet: everything a knitter needs to knit one schedule, worked out and in words."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from models.domain.anthropometry import Estimate, estimate
from models.domain.closing import USUAL_CLOSING
from models.domain.errors import Fault
from models.domain.foot import Foot
from models.domain.gauge import Gauge, doubts_about_gauge
from models.domain.geometry import IDEAL_DIAGONAL_EASE, across_mm, diagonal_ease, girth_mm
from models.domain.instructions import Step, written
from models.domain.pickup import PickUp
from models.domain.placement import Placement, waste_yarn
from models.domain.plausibility import doubts_about_foot, require_plausible
from models.domain.schedule import Schedule

USUAL_DIAGONAL_EASE = (IDEAL_DIAGONAL_EASE - 0.10, IDEAL_DIAGONAL_EASE + 0.10)
"""Ease beyond which a heel is likely far too shallow or deep; a tenth of a heel diagonal of 310 mm
is 16 mm of depth (our judgement, no source)."""


@dataclass(frozen=True)
class Fitting:
    """How a schedule meets a foot: heel diagonal, diagonal ease and where the waste yarn goes."""

    heel_diagonal: Estimate
    diagonal_ease: float
    waste_yarn: Placement | None


@dataclass(frozen=True)
class Worksheet:
    """A schedule at a gauge, and where it is known the foot that it is for."""

    schedule: Schedule
    gauge: Gauge
    depth_mm: float
    pick_up: PickUp
    steps: tuple[Step, ...]
    fitting: Fitting | None
    doubts: tuple[Fault, ...]


def worksheet(
    schedule: Schedule, gauge: Gauge, foot: Foot | None = None, close: str = USUAL_CLOSING
) -> Worksheet:
    """Return the worksheet of a schedule.

    Raises
    ------
    Invalid
        Where the foot is implausible; its faults are under `foot`.

    """
    depth = schedule.depth_mm(gauge.rounds_per_10cm)
    fitting = None if foot is None else _fitting(schedule, gauge, foot, depth)
    return Worksheet(
        schedule,
        gauge,
        depth,
        PickUp(schedule.heel_stitches),
        written(schedule, close),
        fitting,
        (
            *doubts_about_gauge(gauge),
            *([] if foot is None else doubts_about_foot(foot)),
            *([] if fitting is None else _doubts_about(fitting, depth)),
        ),
    )


def _doubts_about(fitting: Fitting, depth: float) -> Iterator[Fault]:
    """Doubt a heel that is far from the ideal ease, or longer than the foot."""
    shallowest, deepest = USUAL_DIAGONAL_EASE
    if fitting.diagonal_ease < shallowest:
        yield Fault("diagonal_ease", round(fitting.diagonal_ease, 3), "likely far too shallow")
    if fitting.diagonal_ease > deepest:
        yield Fault("diagonal_ease", round(fitting.diagonal_ease, 3), "likely far too deep")
    if fitting.waste_yarn is None:
        wanted = "such a heel leaves no foot to knit; check rounds and gauge"
        yield Fault("depth_mm", round(depth), wanted)


def _fitting(schedule: Schedule, gauge: Gauge, foot: Foot, depth: float) -> Fitting:
    require_plausible(foot, under="foot")
    diagonal = estimate("heel_diagonal_mm", foot)
    across = across_mm(schedule.heel_stitches, schedule.closing_stitches, gauge.stitches_per_10cm)
    ease = diagonal_ease(girth_mm(across, depth), diagonal.value)
    opening = PickUp(schedule.heel_stitches).lower
    placement = waste_yarn(foot["foot_length_mm"], depth, gauge, opening)
    return Fitting(diagonal, ease, placement)
