"""How many jobs there are, of all groups, for those who keep the service running."""

from __future__ import annotations

from collections.abc import Mapping

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from models.domain.jobs import State
from models.tables.base import now
from models.tables.jobs import Job


def by_kind_and_state(session: Session) -> Mapping[tuple[str, str], int]:
    """Return how many jobs are kept, by kind and state."""
    query = select(Job.kind, Job.state, func.count()).group_by(Job.kind, Job.state)
    return {(kind, state): number for kind, state, number in session.execute(query)}


def seconds_waited(session: Session) -> float:
    """Return for how many seconds the oldest job that is not begun has waited, 0 without any."""
    query = select(Job.created_at).where(Job.state == State.QUEUED.value)
    oldest = session.scalar(query.order_by(Job.created_at).limit(1))
    return 0.0 if oldest is None else (now() - oldest).total_seconds()
