"""Working out a schedule: open to everybody, nothing is stored."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from flask import Response

from models.actions.answers import shown_estimate
from models.domain.care import CAUTIONS
from models.domain.foot import Foot
from models.domain.gauge import Gauge
from models.domain.placement import Placement
from models.domain.schedule import Round, Schedule
from models.domain.sections import COUNT_NAMES
from models.domain.worksheet import Fitting, Worksheet, worksheet
from service import answers
from service.access import open_to_everybody
from service.schemas import NewSchedule
from service.views import Resources, answered

PICK_UP = ("lower", "upper", "fewest", "most", "from_corners", "quarters")

blueprint = Resources("schedules", "Every round of a heel, worked out and in words.")


@blueprint.route("/schedules", methods=["POST"])
@blueprint.arguments(NewSchedule())
@blueprint.response(200, answers.Schedule)
@open_to_everybody
def work_out(given: Mapping[str, Any]) -> Response:
    """Work out a schedule.

    Every round with its stitch count, the depth, what to expect when picking up, and written
    instructions; with a foot also the diagonal ease and where the waste yarn goes.
    """
    schedule = Schedule(
        given["heel_stitches"],
        {name: given[name] for name in COUNT_NAMES},
        given["decreases_per_round"],
    )
    gauge = Gauge(given["stitches_per_10cm"], given["rounds_per_10cm"])
    return answered(_shown(_worksheet(schedule, gauge, given)))


def _worksheet(schedule: Schedule, gauge: Gauge, given: Mapping[str, Any]) -> Worksheet:
    measurements = given.get("foot")
    foot: Foot | None = measurements and {k: v for k, v in measurements.items() if v is not None}
    return worksheet(schedule, gauge, foot, given["close"])


def _shown(sheet: Worksheet) -> dict[str, Any]:
    schedule, pick_up = sheet.schedule, sheet.pick_up
    return {
        "heel_stitches": schedule.heel_stitches,
        "remainder": schedule.remainder,
        "closing_stitches": schedule.closing_stitches,
        "total_rounds": schedule.total_rounds,
        "depth_mm": round(sheet.depth_mm, 1),
        **_fitting(sheet.fitting),
        "pick_up": {
            name: getattr(pick_up, name)
            for name in ("lower", "upper", "fewest", "most", "from_corners", "quarters")
        },
        "rounds": [_round(one) for one in schedule.rounds()],
        "instructions": [asdict(step) for step in sheet.steps],
        "warnings": [{"code": "check_measurements", "text": str(d)} for d in sheet.doubts],
        "cautions": CAUTIONS,
    }


def _round(one: Round) -> dict[str, Any]:
    return {**asdict(one), "stitches_after": one.stitches_after}


def _fitting(fitting: Fitting | None) -> dict[str, Any]:
    if fitting is None:
        return {"diagonal_ease": None, "heel_diagonal": None, "waste_yarn": None}
    return {
        "diagonal_ease": round(fitting.diagonal_ease, 3),
        "heel_diagonal": shown_estimate(fitting.heel_diagonal),
        "waste_yarn": _placement(fitting.waste_yarn),
    }


def _placement(placement: Placement | None) -> dict[str, Any] | None:
    if placement is None:
        return None
    return {
        "toe_to_waste_yarn_mm": round(placement.toe_to_waste_yarn_mm, 1),
        "toe_to_waste_yarn_rounds": placement.toe_to_waste_yarn_rounds,
        "toe_up": placement.toe_up,
        "cuff_down": placement.cuff_down,
    }
