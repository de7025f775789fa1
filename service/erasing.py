"""Erasing somebody in a transaction of its own, as short as can be."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from sqlalchemy.orm import Session

from models.actions.aftermath import Aftermath
from models.actions.erasing import Erased, Leaving, erase, lock, prepare, reports_around
from models.actions.job_runs import Held
from models.domain.errors import Conflict
from models.tables.engine import Database
from service.apart import Heard, Here, Workroom, nothing, politely

TRIES = 3
"""How often it is prepared without the write lock, where somebody else always changes something."""

MANY_TRIES = 12
"""The same where preparing takes long, for whoever can wait."""

MOST_AT_ONCE = 2_000
"""Reports of the groups that are left up to which it is prepared with the write lock in the end:
some 5 s of work; with 10,000 it would be 50 s."""

LATER = "try again when fewer report"
"""What somebody is told who cannot wait."""


def _nothing_more(_session: Session, _done: Erased) -> None:
    """End the transaction with the erasure."""


def _again(_tries: int) -> None:
    """Tell nobody that it is tried again."""


@dataclass(frozen=True)
class Way:
    """How it is done: where it is worked out, what is asked meanwhile whether to go on.

    `trying` is told before each try how many there were, `foreseen` after each group that is worked
    out. `instead` says what else to do where it takes too long; without it there is time. And where
    a job does it, that job, and what ends it in the transaction that erases.
    """

    workroom: Workroom
    heard: Heard = nothing
    trying: Callable[[int], None] = _again
    foreseen: Callable[[], None] = nothing
    instead: str | None = None
    job: Held | None = None
    ended: Callable[[Session, Erased], None] = _nothing_more


def erase_now(database: Database, leaving: Leaving, way: Way | None = None) -> Erased:
    """Erase somebody, and return what went.

    What a group has learned without them is worked out first, without the write lock.

    Raises
    ------
    Conflict
        Where it must not be done, or others always changed something and there is no time.

    """
    way = way or Way(Here(database))
    with database.read() as reading:
        large = reports_around(reading, leaving) > MOST_AT_ONCE
    tries = MANY_TRIES if large and way.instead is None else TRIES
    for before in range(tries):
        way.trying(before)
        work = partial(_prepared, leaving=leaving, foreseen=way.foreseen)
        prepared = way.workroom.run(work, way.heard)
        with database.write.begin() as session:
            done = erase(session, leaving, prepared, job=way.job)
            if done is not None:
                way.ended(session, done)
                return done
    if large and way.instead is not None:
        raise Conflict(f"others reported whenever it was worked out: {way.instead}")
    way.trying(tries)
    return _at_last(database, leaving, way)


def _prepared(
    database: Database, _heard: Heard, leaving: Leaving, foreseen: Callable[[], None]
) -> list[Aftermath]:
    politely()
    return _worked_out(database, leaving, foreseen)


def _worked_out(
    database: Database, leaving: Leaving, foreseen: Callable[[], None]
) -> list[Aftermath]:
    found = []
    with database.read() as reading:
        for one in prepare(reading, leaving):
            found.append(one)
            foreseen()
    return found


def _at_last(database: Database, leaving: Leaving, way: Way) -> Erased:
    """Prepare while the write lock is held, from what nobody changes meanwhile."""
    with database.write.begin() as session:
        lock(session, leaving)
        prepared = _worked_out(database, leaving, way.foreseen)
        done = erase(session, leaving, prepared, way.job, certain=True)
        if done is None:
            raise RuntimeError("what is certain was not done")
        way.ended(session, done)
    return done
