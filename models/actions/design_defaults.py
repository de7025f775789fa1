"""The calibrated defaults of a design, and what to have test-knitted next, as people read them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sqlalchemy.orm import Session

from models.actions.activations import active
from models.actions.actor import Actor
from models.actions.shown_counts import in_tens
from models.actions.sizes import sizes_of, unknown
from models.actions.standing import standings
from models.actions.target_feet import GroupFeet, heels_of
from models.actions.tracking import TOO_FEW
from models.domain.care import CAUTIONS
from models.domain.errors import Fault, Invalid
from models.domain.roles import Action
from models.domain.wording import in_ten
from models.learning.default_caveats import SizeStanding, Standing, caveats_for_default
from models.learning.defaults import Choice, Default, Defaults, defaults
from models.learning.outcomes import Shares
from models.learning.splitting import Split
from models.learning.target_feet import TargetFeet
from models.tables.socks import Design, Size


@dataclass(frozen=True)
class Wishes:
    """What a designer lets the defaults do beyond moving slow-decrease rounds."""

    choose_plain: bool = False
    allow_jumps: bool = False


@dataclass(frozen=True)
class Found:
    """The defaults of a design with the rows they are for; `left_out` are sizes too little known.

    `calibration_id` is None where geometry answered.
    """

    calibration_id: str | None
    rows: list[Size]
    left_out: list[Size]
    feet: GroupFeet
    defaults: Defaults


def found_defaults(session: Session, actor: Actor, design: Design, wishes: Wishes) -> Found:
    """Return the defaults of a design.

    Raises
    ------
    Invalid
        Where enough is known of none of its sizes.

    """
    actor.require(Action.READ_GROUP)
    every = sizes_of(session, design)
    rows = [size for size in every if not unknown(size)]
    if not rows:
        wanted = "add sizes with their feet, gauge and stitches first"
        raise Invalid([Fault("sizes", len(every), wanted)])
    calibration_id, fitted = active(session, actor.group_id)
    own = GroupFeet.read(session, actor.group_id)
    answer = defaults(
        fitted,
        heels_of(own, rows),
        choose_plain=wishes.choose_plain,
        allow_jumps=wishes.allow_jumps,
    )
    return Found(calibration_id, rows, [size for size in every if unknown(size)], own, answer)


def read_defaults(session: Session, actor: Actor, design: Design, wishes: Wishes) -> dict[str, Any]:
    """Return the defaults of a design as JSON values: today and calibrated, size by size."""
    found = found_defaults(session, actor, design, wishes)
    calibration = found.defaults.calibration
    behind = standings(session, found.feet, found.rows, calibration)
    return {
        "design_id": design.id,
        "name": design.name,
        "calibration_id": found.calibration_id,
        "evidence": in_tens(calibration.reports, calibration.reporters),
        "sizes": [
            _size(row, default, standing, found.defaults)
            for row, default, standing in zip(found.rows, found.defaults.sizes, behind, strict=True)
        ],
        "left_out": [size.label for size in found.left_out],
        "cautions": list(CAUTIONS),
    }


def _size(row: Size, default: Default, standing: SizeStanding, found: Defaults) -> dict[str, Any]:
    return {
        "size_id": row.id,
        "label": row.label,
        "today": _choice(default.today),
        "calibrated": _choice(default.best),
        "low": default.low,
        "high": default.high,
        "feet": _feet(default.size.feet),
        "named": _standing(standing.named),
        "in_range": _standing(standing.in_range),
        "split": None if default.split is None else _split(default.split),
        "warnings": [
            {"code": caveat.code, "text": caveat.text}
            for caveat in caveats_for_default(found, default, standing)
        ],
    }


def _choice(choice: Choice) -> dict[str, Any]:
    return {
        "plain_rounds": choice.plain_rounds,
        "slow_decrease_rounds": choice.slow_decrease_rounds,
        "depth_mm": round(choice.depth_mm, 1),
        "too_shallow": round(float(choice.shares.too_shallow), 2),
        "just_right": round(float(choice.shares.just_right), 2),
        "too_deep": round(float(choice.shares.too_deep), 2),
        "words": _words(choice.shares),
    }


def _words(shares: Shares) -> str:
    return (
        f"{in_ten(shares.just_right)} just right, {in_ten(shares.too_shallow)} too shallow, "
        f"{in_ten(shares.too_deep)} too deep"
    )


def _feet(feet: TargetFeet) -> dict[str, Any]:
    return {
        "source": "group" if feet.people else "survey",
        "people": in_tens(feet.people, feet.people)["reporters"] or None,
        "survey_share": round(feet.survey_share, 4),
    }


def _standing(standing: Standing) -> dict[str, Any]:
    """Return counts in tens, withheld where fewer people than may be shown stand behind them."""
    counts = in_tens(standing.reports, standing.people)
    return {
        "reports": counts["reports"],
        "people": counts["reporters"],
        "withheld": None if standing.shown else TOO_FEW,
    }


def _split(split: Split) -> dict[str, Any]:
    return {
        "measurement": split.measurement,
        "cut_mm": split.cut_mm,
        "side": "above" if split.above else "below",
        "change": split.change,
        "gain": round(split.gain, 3),
    }
