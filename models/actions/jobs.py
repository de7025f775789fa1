"""Asking for work in the background, looking how far it is, and calling it off."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import IO, Any

from sqlalchemy import func, select, update
from sqlalchemy.orm import Session

from models.actions.actor import Actor
from models.actions.job_files import drop_files, keep_file
from models.actions.paging import Page, page
from models.domain.errors import Conflict, NotFound
from models.domain.jobs import MOST_UNFINISHED, UNFINISHED, State
from models.domain.roles import in_order
from models.tables.base import now
from models.tables.jobs import Job

SHOWN = (
    Job.id,
    Job.kind,
    Job.state,
    Job.done,
    Job.total,
    Job.result,
    Job.problem,
    Job.created_at,
    Job.started_at,
    Job.cancel_asked_at,
    Job.ended_at,
)


def ask_for(
    session: Session,
    actor: Actor,
    kind: str,
    asked: Mapping[str, Any],
    file: IO[bytes] | None = None,
) -> Job:
    """Put a job into the queue, with the file it is about.

    Raises
    ------
    Conflict
        Where the actor has too many jobs that have not ended.

    """
    _require_room(session, actor)
    job = Job(
        group_id=actor.group_id,
        member_id=actor.member_id,
        kind=kind,
        scopes=" ".join(in_order(actor.scopes)),
        asked=dict(asked),
    )
    session.add(job)
    session.flush()
    if file is not None:
        keep_file(session, job.group_id, job.id, file)
    return job


def list_jobs(
    session: Session, actor: Actor, kinds: Collection[str], *, after: str | None, limit: int
) -> Page:
    """Return a page of the actor's jobs of some kinds, oldest first."""
    query = select(*SHOWN).where(*_own(actor, kinds))
    return page(session, query, Job.id, after=after, limit=limit)


def own_job(session: Session, actor: Actor, kinds: Collection[str], job_id: str) -> Job:
    """Return one of the actor's jobs of some kinds.

    Raises
    ------
    NotFound
        Where there is no such job.

    """
    job = session.scalar(select(Job).where(Job.id == job_id, *_own(actor, kinds)))
    if job is None:
        raise NotFound("no such job of yours; jobs are kept for a day after their end")
    return job


def call_off(session: Session, job: Job) -> None:
    """Cancel a job: at once where it waits; a running one stops soon and leaves nothing behind.

    Raises
    ------
    Conflict
        Where it has ended.

    """
    moment = now()
    waiting = update(Job).where(Job.id == job.id, Job.state == State.QUEUED.value)
    values = {"state": State.CANCELLED.value, "cancel_asked_at": moment, "ended_at": moment}
    if _changed(session, waiting.values(**values)):
        drop_files(session, [job.id])
    elif not _changed(
        session,
        update(Job)
        .where(Job.id == job.id, Job.state == State.RUNNING.value)
        .values(cancel_asked_at=func.coalesce(Job.cancel_asked_at, moment)),
    ):
        session.refresh(job)
        if job.state != State.CANCELLED.value:
            raise Conflict(f"this job is {job.state}: there is nothing left to cancel")
    session.refresh(job)


def described(job: Job) -> dict[str, Any]:
    """Return a job as it is shown."""
    return {column.key: getattr(job, column.key) for column in SHOWN}


def _own(actor: Actor, kinds: Collection[str]) -> tuple[Any, ...]:
    return (
        Job.group_id == actor.group_id,
        Job.member_id == actor.member_id,
        Job.kind.in_(sorted(kinds)),
    )


def _changed(session: Session, statement: Any) -> bool:
    changed = session.execute(statement.returning(Job.id), execution_options=_UNSYNCED)
    return changed.scalar() is not None


_UNSYNCED = {"synchronize_session": False}


def _require_room(session: Session, actor: Actor) -> None:
    unfinished = session.scalar(
        select(func.count())
        .select_from(Job)
        .where(
            Job.group_id == actor.group_id,
            Job.member_id == actor.member_id,
            Job.state.in_(UNFINISHED),
        )
    )
    if (unfinished or 0) >= MOST_UNFINISHED:
        raise Conflict(f"you have {unfinished} jobs that have not ended: wait, or cancel some")
