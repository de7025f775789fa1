"""Erasing somebody: all rows that are theirs, and all that was learned from them.

Who is erased is a place in a group, or a person with all places. Working out what a group knows
without them (`foreseen`) and doing it (`erase`) are two steps, so that the second is short.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from sqlalchemy import delete, func, or_, select, update
from sqlalchemy.orm import Session

from models.actions import fates, members
from models.actions.aftermath import (
    Aftermath,
    foreseen,
    forget_learned,
    holds,
    learn_anew,
    resting_on,
)
from models.actions.job_runs import Held, go_on, put_back_all
from models.actions.kept_results import forget_results
from models.actions.outstanding_codes import revoke_codes_of
from models.actions.tokens import first_label
from models.actions.turns import take_turns
from models.domain.codes import digest
from models.domain.errors import Conflict
from models.domain.jobs import UNFINISHED
from models.tables.base import new_id, now
from models.tables.claim import insert_new
from models.tables.erased import Erasure
from models.tables.jobs import Job
from models.tables.people import Group, IdempotencyKey, Member, Person, Token
from models.tables.socks import Report

COUNTED = ("feet", "reports", "suggestions", "calibrations")
"""The tables of which is told how many rows went."""

_ID = re.compile(r"[0-9a-f]{32}")


@dataclass(frozen=True)
class Leaving:
    """Who is to be erased: places by group id, and the person where the whole account goes.

    With each place comes the person who had it when it was asked about, None where nobody had.
    """

    places: Mapping[str, Mapping[str, str | None]]
    person_id: str | None = None

    @property
    def start(self) -> fates.Rows:
        """The rows that go first."""
        whole = {"people": {self.person_id}} if self.person_id else {}
        return {"members": set().union(*self.places.values()), **whole}

    @property
    def gone(self) -> list[tuple[str, frozenset[str]]]:
        """Groups with the places that go, in an order of groups in which nobody waits in a ring."""
        return [(group_id, frozenset(self.places[group_id])) for group_id in sorted(self.places)]


@dataclass(frozen=True)
class Erased:
    """How many rows went, by table, and the new calibration of each group that has one."""

    rows: Mapping[str, int]
    calibrations: Mapping[str, str]


def reports_around(session: Session, leaving: Leaving) -> int:
    """Return how many reports the groups have that are left: preparing takes as long."""
    query = select(func.count()).select_from(Report).where(Report.group_id.in_(leaving.places))
    return session.scalar(query) or 0


def prepare(session: Session, leaving: Leaving) -> Iterator[Aftermath]:
    """Yield what becomes of every group that is left; it only reads."""
    resting = (resting_on(session, group_id, gone) for group_id, gone in leaving.gone)
    forgotten = frozenset[str]().union(*resting)
    for group_id, gone in leaving.gone:
        yield foreseen(session, group_id, gone, forgotten)


def lock(session: Session, leaving: Leaving) -> None:
    """Let nothing more come in for whoever is erased, nor a calibration of a group that is left.

    Raises
    ------
    Conflict
        Where others would be left without a steward, somebody has joined in a place that nobody
        had, or it was done meanwhile.

    """
    _lock_person(session, leaving)
    for group_id in sorted(leaving.places):
        take_turns(session, group_id)
        _lock(session, leaving.places[group_id])


def erase(
    session: Session,
    leaving: Leaving,
    prepared: Sequence[Aftermath],
    job: Held | None = None,
    *,
    certain: bool = False,
) -> Erased | None:
    """Erase somebody, or do nothing and return None where a group has changed since `prepare`.

    `job` is the one that does it, if any: it goes on while all others of the groups begin afresh.
    With `certain` nothing is compared: it was prepared after `lock`, in this very transaction.

    Raises
    ------
    Conflict
        As `lock` does.
    Interrupted
        Where the job must not take effect.

    """
    lock(session, leaving)
    if job is not None:
        go_on(session, job)
    if not certain and not all(holds(session, one) for one in prepared):
        return None
    _note(session, leaving)
    _revoke_codes(session, leaving)
    forget_results(session, list(leaving.places))
    _relabel(session, leaving)
    put_back_all(session, leaving.places, but=job)
    for one in prepared:
        forget_learned(session, one)
    calibrations = set().union(*(one.calibrations for one in prepared))
    going = {**leaving.start, "calibrations": calibrations, "jobs": _with_files(session, leaving)}
    rows = fates.reached(session, going, hold=True)
    _forget_answers(session, leaving, rows)
    fates.remove(session, rows)
    made = {one.pool.group_id: learn_anew(session, one) for one in prepared}
    return Erased(
        {name: len(rows.get(name, ())) for name in COUNTED},
        {group_id: found for group_id, found in made.items() if found is not None},
    )


def _lock_person(session: Session, leaving: Leaving) -> None:
    """Let nothing more come in for a person whose whole account goes."""
    if leaving.person_id is None:
        return
    session.execute(select(Person.id).where(Person.id == leaving.person_id).with_for_update())
    places = session.scalars(select(Member.id).where(Member.person_id == leaving.person_id))
    if set(places) - leaving.start["members"]:
        raise Conflict("a group was joined a moment ago: try again")


def _lock(session: Session, whose: Mapping[str, str | None]) -> None:
    """Let nothing more come in for places in a group, and see that a steward is left.

    `whose` says who had each when it was asked about: whoever has joined since was not meant.
    """
    query = select(Member).where(Member.id.in_(whose)).with_for_update()
    places = session.scalars(query.execution_options(populate_existing=True)).all()
    if len(places) < len(whose):
        raise Conflict("this was erased a moment ago")
    for place in places:
        if place.person_id != whose[place.id]:
            raise Conflict(f"{place.name} has joined a moment ago: nothing was erased")
        members.require_steward_left(session, place)


def _note(session: Session, leaving: Leaving) -> None:
    """Keep that they were erased, for backups that were made before: digests of random ids."""
    ids = [one for table in leaving.start.values() for one in table]
    rows = [{"id": new_id(), "digest": digest(one), "created_at": now()} for one in ids]
    insert_new(session, Erasure, rows)


def _revoke_codes(session: Session, leaving: Leaving) -> None:
    """Revoke what they handed out, before it is forgotten who did."""
    places = select(Member).where(Member.id.in_(leaving.start["members"]))
    revoke_codes_of(session, session.scalars(places).all())


def _relabel(session: Session, leaving: Leaving) -> None:
    """Take a name that goes out of the label of a token that stays."""
    places = select(Member.person_id, Member.name, Group.name.label("group")).join(
        Group, Group.id == Member.group_id
    )
    for row in session.execute(places.where(Member.id.in_(leaving.start["members"]))):
        mine = (Token.person_id == row.person_id, Token.label == first_label(row.name, row.group))
        session.execute(update(Token).where(*mine).values(label=f"in {row.group}"[:80]))


def _with_files(session: Session, leaving: Leaving) -> set[str]:
    """Return ended jobs of the groups: files that went in or out may hold what is erased."""
    ended = (Job.group_id.in_(leaving.places), Job.state.not_in(UNFINISHED))
    return set(session.scalars(select(Job.id).where(*ended)))


def _forget_answers(session: Session, leaving: Leaving, rows: fates.Rows) -> None:
    """Forget answers kept for being sent again that name what goes, whoever got them."""
    going = {one for name in ("members", *COUNTED) for one in rows.get(name, ())}
    people = select(Member.person_id).where(Member.group_id.in_(leaving.places))
    asked = or_(IdempotencyKey.person_id.in_(people), IdempotencyKey.person_id == leaving.person_id)
    kept = select(IdempotencyKey.id, IdempotencyKey.location, IdempotencyKey.body).where(asked)
    for row in session.execute(kept).all():
        if not going.isdisjoint(_ID.findall(f"{row.location} {row.body}")):
            session.execute(delete(IdempotencyKey).where(IdempotencyKey.id == row.id))
