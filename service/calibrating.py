"""Calibrating, in the two steps that take long; each opens what it needs, so it can run apart."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from models.actions import judging
from models.actions.actor import Actor
from models.actions.judging import Judged
from models.tables.engine import Database
from service.apart import Workroom, nothing
from service.screening import hold_doubtful


def calibrated(
    workroom: Workroom,
    actor: Actor,
    heard: Callable[[], None] = nothing,
    done: Callable[[], None] = nothing,
) -> Judged:
    """Hold doubtful reports back, and return what is learned from the others; it is kept nowhere.

    `heard` is called while it lasts and ends it by raising, `done` after each of the two steps.
    """
    workroom.run(partial(hold_doubtful, actor=actor), heard)
    done()
    judged = workroom.run(partial(_judged, actor=actor), heard)
    done()
    return judged


def _judged(database: Database, actor: Actor) -> Judged:
    with database.read() as reading:
        return judging.calibrated(reading, actor)
