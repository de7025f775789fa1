"""Erasing somebody in a transaction of its own, as short as can be."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from sqlalchemy.orm import Session

from models.actions.aftermath import Aftermath
from models.actions.erasing import Erased, Leaving, erase, prepare
from models.actions.job_runs import Held
from models.tables.engine import Database
from service.apart import Heard, Here, Workroom, nothing, politely

TRIES = 3
"""How often it is prepared without the write lock, where somebody else always changes something."""


def _nothing_more(_session: Session, _done: Erased) -> None:
    """End the transaction with the erasure."""


@dataclass(frozen=True)
class Way:
    """How it is done: where it is worked out, what is asked meanwhile whether to go on.

    And where a job does it, that job, and what ends it in the transaction that erases.
    """

    workroom: Workroom
    heard: Heard = nothing
    job: Held | None = None
    ended: Callable[[Session, Erased], None] = _nothing_more


def erase_now(database: Database, leaving: Leaving, way: Way | None = None) -> Erased:
    """Erase somebody, and return what went.

    What a group has learned without them is worked out first, without the write lock.
    """
    way = way or Way(Here(database))
    for _ in range(TRIES):
        prepared = way.workroom.run(partial(_prepared, leaving=leaving), way.heard)
        with database.write.begin() as session:
            done = erase(session, leaving, prepared, job=way.job)
            if done is not None:
                way.ended(session, done)
                return done
    with database.write.begin() as session:
        done = _at_once(erase(session, leaving, prepare(session, leaving), way.job, certain=True))
        way.ended(session, done)
    return done


def _prepared(database: Database, _heard: Heard, leaving: Leaving) -> list[Aftermath]:
    politely()
    with database.read() as reading:
        return prepare(reading, leaving)


def _at_once(done: Erased | None) -> Erased:
    if done is None:
        raise RuntimeError("what is certain was not done")
    return done
