"""People, groups, members and tokens."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import CheckConstraint, ForeignKey, Index, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from models.domain.roles import Role
from models.tables.base import Base, Id, Moment, Name, OptionalReference, Reference, Utc

_ROLES = ", ".join(f"'{role}'" for role in Role)


class Person(Base):
    """Somebody who can hold tokens and be a member of several groups."""

    __tablename__ = "people"

    id: Mapped[Id]
    created_at: Mapped[Moment]


class Group(Base):
    """A knitting group: the pool that reports belong to."""

    __tablename__ = "groups"
    id: Mapped[Id]
    name: Mapped[Name]
    version: Mapped[int] = mapped_column(nullable=False, default=1)
    created_at: Mapped[Moment]
    __mapper_args__ = {"version_id_col": version}


class Member(Base):
    """A reporter's place in a group; without a person where reports came from a file."""

    __tablename__ = "members"
    __table_args__ = (
        UniqueConstraint("group_id", "id"),
        UniqueConstraint("group_id", "name"),
        UniqueConstraint("group_id", "person_id"),
        CheckConstraint(f"role IN ({_ROLES})", name="role"),
    )

    id: Mapped[Id]
    group_id: Mapped[Reference] = mapped_column(ForeignKey("groups.id"))
    person_id: Mapped[OptionalReference] = mapped_column(ForeignKey("people.id"))
    name: Mapped[Name]
    role: Mapped[str] = mapped_column(String(20))
    joined_at: Mapped[Moment]


class Token(Base):
    """A bearer token, of which only the SHA-256 digest is kept."""

    __tablename__ = "tokens"
    __table_args__ = (UniqueConstraint("digest"), Index(None, "person_id"))

    id: Mapped[Id]
    person_id: Mapped[Reference] = mapped_column(ForeignKey("people.id"))
    digest: Mapped[str] = mapped_column(String(64))
    label: Mapped[Name]
    created_at: Mapped[Moment]
    expires_at: Mapped[datetime | None] = mapped_column(Utc)
    revoked_at: Mapped[datetime | None] = mapped_column(Utc)


class IdempotencyKey(Base):
    """The answer that a POST got, so that sending it again does nothing and answers the same."""

    __tablename__ = "idempotency_keys"
    __table_args__ = (UniqueConstraint("person_id", "key"), Index(None, "location"))

    id: Mapped[Id]
    person_id: Mapped[Reference] = mapped_column(ForeignKey("people.id"))
    key: Mapped[str] = mapped_column(String(255))
    request_digest: Mapped[str] = mapped_column(String(64))
    status: Mapped[int]
    location: Mapped[str | None] = mapped_column(String(500))
    etag: Mapped[str | None] = mapped_column(String(100))
    body: Mapped[str]
    created_at: Mapped[Moment]
