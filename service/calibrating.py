"""Calibrating, one at a time in a group, by whoever is asked to: a request, a job, a command."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from models.actions import judging
from models.actions.actor import Actor
from models.actions.judging import Judged
from models.tables.alone import alone
from models.tables.engine import Database
from service.apart import Heard, nothing, politely
from service.screening import hold_doubtful

PATIENCE_S = 2.0
"""So long a request waits for others, as it holds a thread meanwhile; then it becomes a job."""


@contextmanager
def one_at_a_time(
    database: Database, actor: Actor, heard: Heard = nothing, patience_s: float = float("inf")
) -> Iterator[None]:
    """Calibrate while nobody else calibrates the group, until the calibration is kept.

    Raises
    ------
    Busy
        Where another calibration of the group goes on for longer than `patience_s`.

    """
    with alone(database, f"calibration {actor.group_id}", heard, patience_s):
        yield


def calibrated(
    database: Database, _heard: Heard, actor: Actor, done: Callable[[], None] = nothing
) -> Judged:
    """Hold doubtful reports back, and return what is learned from the others; it is kept nowhere.

    `done` is called after each of the two steps.
    """
    politely()
    hold_doubtful(database, actor)
    done()
    with database.read() as reading:
        judged = judging.calibrated(reading, actor)
    done()
    return judged
