"""A worksheet: everything a knitter needs to knit one schedule, worked out and in words."""

from __future__ import annotations

from dataclasses import dataclass

from models.domain.anthropometry import Estimate, estimate
from models.domain.closing import USUAL_CLOSING
from models.domain.errors import Fault
from models.domain.foot import Foot
from models.domain.gauge import Gauge, doubts_about_gauge
from models.domain.geometry import across_mm, diagonal_ease, girth_mm
from models.domain.instructions import Step, written
from models.domain.pickup import PickUp
from models.domain.placement import Placement, waste_yarn
from models.domain.plausibility import doubts_about_foot, require_plausible
from models.domain.schedule import Schedule


@dataclass(frozen=True)
class Fitting:
    """How a schedule meets a foot: heel diagonal, diagonal ease and where the waste yarn goes."""

    heel_diagonal: Estimate
    diagonal_ease: float
    waste_yarn: Placement


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
        Where the foot is implausible or shorter than the heel; the faults are under `foot`.

    """
    depth = schedule.depth_mm(gauge.rounds_per_10cm)
    return Worksheet(
        schedule,
        gauge,
        depth,
        PickUp(schedule.heel_stitches),
        written(schedule, close),
        None if foot is None else _fitting(schedule, gauge, foot, depth),
        (*doubts_about_gauge(gauge), *([] if foot is None else doubts_about_foot(foot))),
    )


def _fitting(schedule: Schedule, gauge: Gauge, foot: Foot, depth: float) -> Fitting:
    require_plausible(foot, under="foot")
    diagonal = estimate("heel_diagonal_mm", foot)
    across = across_mm(schedule.heel_stitches, schedule.closing_stitches, gauge.stitches_per_10cm)
    ease = diagonal_ease(girth_mm(across, depth), diagonal.value)
    opening = PickUp(schedule.heel_stitches).lower
    placement = waste_yarn(foot["foot_length_mm"], depth, gauge, opening)
    return Fitting(diagonal, ease, placement)
