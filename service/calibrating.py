"""Calibrating, in the two steps that take long; each opens what it needs, so it can run apart."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from models.actions import judging
from models.actions.actor import Actor
from models.actions.judging import Judged
from models.tables.alone import alone
from models.tables.engine import Database
from service.apart import Heard, Workroom, nothing
from service.screening import hold_doubtful

PATIENCE_S = 10.0
"""So long a request waits for another calibration of its group: it holds a thread meanwhile."""


def calibrated(
    database: Database,
    workroom: Workroom,
    actor: Actor,
    heard: Heard = nothing,
    done: Callable[[], None] = nothing,
    *,
    patience_s: float = float("inf"),
) -> Judged:
    """Hold doubtful reports back, and return what is learned from the others; it is kept nowhere.

    One at a time in a group. `heard` is called while it lasts and ends it by raising, `done` after
    each of the two steps.

    Raises
    ------
    Conflict
        Where another calibration of the group goes on for longer than `patience_s`.

    """
    with alone(database, turn_of(actor), heard, patience_s):
        workroom.run(partial(_held, actor=actor), heard)
        done()
        judged = workroom.run(partial(_judged, actor=actor), heard)
        done()
    return judged


def turn_of(actor: Actor) -> str:
    """Return the name of what only one at a time does in a group."""
    return f"calibration {actor.group_id}"


def _held(database: Database, _heard: Heard, actor: Actor) -> int:
    return hold_doubtful(database, actor)


def _judged(database: Database, _heard: Heard, actor: Actor) -> Judged:
    with database.read() as reading:
        return judging.calibrated(reading, actor)
