"""What a worker does with the rows of jobs: begin, go on, end, and pick up what was lost.

Whoever began a job last holds it, which `tries` tells: a worker that was thought dead changes
nothing any more, for its effect and "done" are one transaction.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, delete, exists, select, update
from sqlalchemy.orm import Session, aliased

from models.actions.access import scopes_of
from models.actions.actor import Actor
from models.actions.job_files import drop_files
from models.actions.turns import take_turns, wait_shortly
from models.domain.errors import Forbidden
from models.domain.jobs import KEPT, MOST_TRIES, STALE, State
from models.domain.roles import Role
from models.tables.base import now
from models.tables.jobs import Job
from models.tables.people import Member

GIVEN_UP = {
    "type": "urn:heeldepth:problem:given-up",
    "title": "Something broke here",
    "status": 500,
    "detail": f"it was begun {MOST_TRIES} times and never came to its end",
}


class Interrupted(Exception):
    """The job was called off, or somebody else has begun it again."""


@dataclass(frozen=True)
class Held:
    """A job that this worker has begun."""

    id: str
    group_id: str
    kind: str
    asked: Mapping[str, Any]
    tries: int


def begin(session: Session, job_id: str) -> Held | None:
    """Begin a job, unless it does not wait any more or its group has one of its kind running.

    Where something long is being written in the group it gives up soon, and does other work.
    """
    group_id = session.scalar(select(Job.group_id).where(Job.id == job_id))
    if group_id is None:
        return None
    wait_shortly(session)
    take_turns(session, group_id)
    moment = now()
    begun = session.execute(
        update(Job)
        .where(Job.id == job_id, Job.state == State.QUEUED.value, ~_busy())
        .values(
            state=State.RUNNING.value,
            tries=Job.tries + 1,
            started_at=moment,
            heard_at=moment,
            done=0,
        )
        .returning(Job.id, Job.group_id, Job.kind, Job.asked, Job.tries)
    ).first()
    return None if begun is None else Held(*begun)


def actor_of_job(session: Session, held: Held) -> Actor:
    """Return who asked for a job, with the role of now and the scopes of then.

    Raises
    ------
    Forbidden
        Where that member has left the group.
    Interrupted
        Where that member was erased, and the job as well.

    """
    row = session.execute(
        select(Member.id, Member.role, Member.name, Member.left_at, Job.scopes)
        .join(Job, Job.member_id == Member.id)
        .where(Job.id == held.id)
    ).first()
    if row is None:
        raise Interrupted
    if row.left_at is not None:
        raise Forbidden("who asked for this is no member of the group any more")
    return Actor(held.group_id, Role(row.role), row.id, row.name, scopes_of(row.scopes))


def go_on(session: Session, held: Held, **progress: int | None) -> None:
    """Say that the job is being worked on and how far it is (`done`, `total`).

    Raises
    ------
    Interrupted
        Where it must not be worked on any more.

    """
    _change(session, held, heard_at=now(), **progress)


def require_held(session: Session, held: Held) -> None:
    """Look whether a job still is to be worked on.

    Raises
    ------
    Interrupted
        Where it must not be worked on any more.

    """
    goes_on = select(Job.id).where(*_mine(held), Job.cancel_asked_at.is_(None))
    if session.scalar(goes_on) is None:
        raise Interrupted


def state_of(session: Session, held: Held) -> str:
    """Return what has become of a job; an erasure of oneself takes its own with it."""
    return session.scalar(select(Job.state).where(Job.id == held.id)) or "gone"


def finish(session: Session, held: Held, result: Mapping[str, Any], steps: int) -> None:
    """Mark a job as done after so many steps, in the transaction of its effect.

    Raises
    ------
    Interrupted
        Where it must not take effect; the transaction must be undone.

    """
    ended = {"state": State.DONE.value, "result": dict(result), "ended_at": now()}
    _change(session, held, done=steps, total=steps, **ended)


def fail(session: Session, held: Held, problem: Mapping[str, Any]) -> None:
    """Mark a job as failed, if this worker still holds it."""
    _end(session, held, state=State.FAILED.value, problem=dict(problem), ended_at=now())


def give_up(session: Session, held: Held) -> None:
    """Mark a job as cancelled, if this worker still holds it."""
    _end(session, held, state=State.CANCELLED.value, ended_at=now())


def put_back(session: Session, held: Held) -> None:
    """Let another worker begin a job afresh, if this one still holds it."""
    session.execute(update(Job).where(*_mine(held)).values(state=State.QUEUED.value, done=0))


def put_back_all(session: Session, group_ids: Collection[str], but: Held | None) -> None:
    """Have what runs in groups begun afresh: what it has read so far is no longer there.

    `but` is the job that has done so.
    """
    running = [Job.group_id.in_(group_ids), Job.state == State.RUNNING.value]
    if but is not None:
        running.append(Job.id != but.id)
    session.execute(update(Job).where(*running).values(state=State.QUEUED.value, done=0))


def waiting(session: Session) -> list[str]:
    """Return the ids of all jobs that could be begun, oldest first."""
    query = select(Job.id).where(Job.state == State.QUEUED.value, ~_busy())
    return list(session.scalars(query.order_by(Job.id)))


def next_of_its_kind(session: Session, held: Held) -> str | None:
    """Return the id of the oldest job that waited for a group's turn at one kind."""
    same = (Job.group_id == held.group_id, Job.kind == held.kind)
    query = select(Job.id).where(Job.state == State.QUEUED.value, *same)
    return session.scalar(query.order_by(Job.id).limit(1))


def anything_lost(session: Session) -> bool:
    """Return whether there is something for `tidy` to do."""
    return bool(session.scalar(select(exists().where(_lost() | _old()))))


def tidy(session: Session) -> None:
    """Put jobs back that have lost their workers, and delete those that ended a day ago."""
    lost = update(Job).where(_lost())
    called_off = Job.cancel_asked_at.is_not(None)
    ended = {"ended_at": now()}
    session.execute(lost.where(called_off).values(state=State.CANCELLED.value, **ended))
    too_often = lost.where(Job.tries >= MOST_TRIES)
    session.execute(too_often.values(state=State.FAILED.value, problem=GIVEN_UP, **ended))
    session.execute(lost.values(state=State.QUEUED.value, done=0))
    old = list(session.scalars(select(Job.id).where(_old())))
    drop_files(session, old)
    session.execute(delete(Job).where(Job.id.in_(old)))


def _busy() -> ColumnElement[bool]:
    """Return whether a job's group has another of its kind running."""
    other = aliased(Job)
    return exists().where(
        other.group_id == Job.group_id, other.kind == Job.kind, other.state == State.RUNNING.value
    )


def _lost() -> ColumnElement[bool]:
    return (Job.state == State.RUNNING.value) & (Job.heard_at <= now() - STALE)


def _old() -> ColumnElement[bool]:
    return Job.ended_at <= now() - KEPT


def _change(session: Session, held: Held, **values: Any) -> None:
    changed = update(Job).where(*_mine(held), Job.cancel_asked_at.is_(None)).values(**values)
    if session.execute(changed.returning(Job.id)).scalar() is None:
        raise Interrupted


def _end(session: Session, held: Held, **values: Any) -> None:
    ended = update(Job).where(*_mine(held)).values(**values).returning(Job.id)
    if session.execute(ended).scalar() is not None:
        drop_files(session, [held.id])


def _mine(held: Held) -> tuple[Any, ...]:
    return (Job.id == held.id, Job.state == State.RUNNING.value, Job.tries == held.tries)
