"""The test-knit plan of a design, as people read it."""

from __future__ import annotations

from typing import Any

from sqlalchemy.orm import Session

from models.actions.actor import Actor
from models.actions.design_defaults import Wishes, found_defaults
from models.domain.roles import Action
from models.domain.sections import COUNT_NAMES
from models.domain.wording import counted
from models.learning.plan import Planned, plan
from models.tables.socks import Design

MOST_SOCKS = 60

_DELIBERATE = {
    "shallow": "Clearly shallow on purpose, to learn how much deeper is felt as deeper. ",
    "deep": "Clearly deep on purpose, to learn how much deeper is felt as deeper. ",
}
_WORTH_NAMING = 0.005


def read_plan(session: Session, actor: Actor, design: Design, socks: int) -> dict[str, Any]:
    """Return which socks to have knitted next, with what each is expected to teach.

    Raises
    ------
    Invalid
        Where enough is known of none of the design's sizes.

    """
    actor.require(Action.READ_GROUP)
    found = found_defaults(session, actor, design, Wishes())
    ids = {row.label: row.id for row in found.rows}
    planned = plan(found.defaults, socks)
    settled = sum(one.settled for one in planned)
    return {
        "design_id": design.id,
        "name": design.name,
        "calibration_id": found.calibration_id,
        "socks": [
            {"size_id": ids[one.sock.size.label], **_sock(number, one)}
            for number, one in enumerate(planned, start=1)
        ],
        "settled": round(settled, 3),
        "text": f"{counted(socks, 'sock')} would settle {_percent(settled)} of what is unsure "
        "about the defaults.",
    }


def _sock(number: int, planned: Planned) -> dict[str, Any]:
    sock = planned.sock
    schedule = sock.size.policy.schedule(sock.slow_decrease_rounds)
    return {
        "number": number,
        "label": sock.size.label,
        "foot": {name: round(value) for name, value in sock.foot.items()},
        "yarn_weight": sock.size.yarn_weight,
        "stitches_per_10cm": sock.size.gauge.stitches_per_10cm,
        "rounds_per_10cm": sock.size.gauge.rounds_per_10cm,
        "heel_stitches": schedule.heel_stitches,
        "decreases_per_round": schedule.decreases_per_round,
        **{name: schedule.counts[name] for name in COUNT_NAMES},
        "deliberate": sock.deliberate,
        "chance_wearable": round(planned.wearable, 2),
        "settled": round(planned.settled, 3),
        "text": _text(planned),
    }


def _text(planned: Planned) -> str:
    """Say what a sock teaches, and about which sizes most."""
    most = sorted(planned.of_size.items(), key=lambda one: -one[1])[:2]
    named = [f"{label} ({_percent(share)})" for label, share in most if share >= _WORTH_NAMING]
    about = f", most about size {' and size '.join(named)}" if named else ""
    purpose = _DELIBERATE.get(planned.sock.deliberate or "", "")
    return f"{purpose}Settles {_percent(planned.settled)} of what is unsure{about}."


def _percent(share: float) -> str:
    return f"{share:.0%}" if share >= 0.01 else "less than 1%"
