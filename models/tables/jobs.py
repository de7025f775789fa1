"""Work that is done after it was asked for, and the files that go with it."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import (
    JSON,
    CheckConstraint,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    LargeBinary,
    String,
    UniqueConstraint,
)
from sqlalchemy.orm import Mapped, mapped_column

from models.domain.jobs import State
from models.tables.base import Base, Id, Moment, Reference, Utc

_STATES = ", ".join(f"'{state}'" for state in State)


class Job(Base):
    """Something to be done for a member, with what was asked, how far it is and what came of it.

    `tries` counts how often it was begun: who began it last may end it. `scopes` are those of the
    token that asked; `problem` says what kept it from being done.
    """

    __tablename__ = "jobs"
    __table_args__ = (
        UniqueConstraint("group_id", "id"),
        ForeignKeyConstraint(["group_id", "member_id"], ["members.group_id", "members.id"]),
        CheckConstraint(f"state IN ({_STATES})", name="state"),
        Index(None, "group_id", "member_id"),
        Index(None, "state"),
    )

    id: Mapped[Id]
    group_id: Mapped[Reference] = mapped_column(ForeignKey("groups.id"))
    member_id: Mapped[Reference]
    kind: Mapped[str] = mapped_column(String(20))
    scopes: Mapped[str] = mapped_column(String(100))
    state: Mapped[str] = mapped_column(String(20), default=State.QUEUED.value)
    asked: Mapped[dict[str, Any]] = mapped_column(JSON)
    done: Mapped[int] = mapped_column(default=0)
    total: Mapped[int | None]
    result: Mapped[dict[str, Any] | None] = mapped_column(JSON)
    problem: Mapped[dict[str, Any] | None] = mapped_column(JSON)
    tries: Mapped[int] = mapped_column(default=0)
    created_at: Mapped[Moment]
    started_at: Mapped[datetime | None] = mapped_column(Utc)
    heard_at: Mapped[datetime | None] = mapped_column(Utc)
    cancel_asked_at: Mapped[datetime | None] = mapped_column(Utc)
    ended_at: Mapped[datetime | None] = mapped_column(Utc)


class JobPiece(Base):
    """A piece of the file that a job was given or has made; `number` puts them in order."""

    __tablename__ = "job_pieces"
    __table_args__ = (
        ForeignKeyConstraint(["group_id", "job_id"], ["jobs.group_id", "jobs.id"]),
        UniqueConstraint("job_id", "number"),
    )

    id: Mapped[Id]
    group_id: Mapped[Reference] = mapped_column(ForeignKey("groups.id"))
    job_id: Mapped[Reference]
    number: Mapped[int]
    content: Mapped[bytes] = mapped_column(LargeBinary)
