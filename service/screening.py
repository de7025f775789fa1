"""Holding doubtful reports back, in transactions of their own, before anything is learned."""

from __future__ import annotations

from models.actions.actor import Actor
from models.actions.screening import doubtful, hold
from models.tables.engine import Database


def hold_doubtful(database: Database, actor: Actor) -> int:
    """Hold the doubtful reports of the actor's group, and return how many were held.

    They are found without the write lock; nothing is written where there is none.
    """
    with database.read() as session:
        doubts = doubtful(session, actor)
    if not doubts:
        return 0
    with database.write.begin() as session:
        return hold(session, actor, doubts)
