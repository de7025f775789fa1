"""Invitations into a group."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import CheckConstraint, ForeignKey, ForeignKeyConstraint, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from models.tables.base import Base, Id, Moment, OptionalReference, Reference, Utc, if_named
from models.tables.people import IS_ROLE


class Invitation(Base):
    """A code that lets people join, of which only the SHA-256 digest is kept.

    `reporter_id` names the place of a reporter without a person, who then gets that place;
    `member_id` who invited, None where the operator did.
    """

    __tablename__ = "invitations"
    __table_args__ = (
        UniqueConstraint("group_id", "id"),
        UniqueConstraint("digest"),
        *(
            ForeignKeyConstraint(["group_id", column], ["members.group_id", "members.id"])
            for column in ("member_id", "reporter_id")
        ),
        *map(if_named, ("member_id", "reporter_id")),
        CheckConstraint(IS_ROLE, name="role"),
        CheckConstraint("uses_left BETWEEN 0 AND uses", name="uses_left"),
    )

    id: Mapped[Id]
    group_id: Mapped[Reference] = mapped_column(ForeignKey("groups.id"))
    member_id: Mapped[OptionalReference]
    reporter_id: Mapped[OptionalReference]
    digest: Mapped[str] = mapped_column(String(64))
    role: Mapped[str] = mapped_column(String(20))
    uses: Mapped[int]
    uses_left: Mapped[int]
    created_at: Mapped[Moment]
    expires_at: Mapped[datetime] = mapped_column(Utc)
    revoked_at: Mapped[datetime | None] = mapped_column(Utc)
