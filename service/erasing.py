"""Erasing somebody in a transaction of its own, as short as can be."""

from __future__ import annotations

from models.actions.erasing import Erased, Leaving, erase, prepare
from models.tables.engine import Database

TRIES = 3
"""How often it is prepared without the write lock, where somebody else always changes something."""


def erase_now(database: Database, leaving: Leaving) -> Erased:
    """Erase somebody, and return what went.

    What a group has learned without them is worked out first, without the write lock.
    """
    for _ in range(TRIES):
        with database.read() as reading:
            prepared = prepare(reading, leaving)
        with database.write.begin() as session:
            done = erase(session, leaving, prepared)
        if done is not None:
            return done
    with database.write.begin() as session:
        return _at_once(erase(session, leaving, prepare(session, leaving), certain=True))


def _at_once(done: Erased | None) -> Erased:
    if done is None:
        raise RuntimeError("what is certain was not done")
    return done
