"""People, groups, members and tokens."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import CheckConstraint, ForeignKey, Index, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from models.domain.roles import Role, Scope
from models.tables.base import Base, Id, Moment, Name, OptionalReference, Reference, Utc

_ROLES = ", ".join(f"'{role}'" for role in Role)
_EVERY = " ".join(Scope)
IS_ROLE = f"role IN ({_ROLES})"
"""The check on every column of roles."""


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
    """A reporter's place in a group; without a person where reports came from a file.

    Who left keeps the place, so that what was reported keeps its owner, and may come back to it.
    """

    __tablename__ = "members"
    __table_args__ = (
        UniqueConstraint("group_id", "id"),
        UniqueConstraint("group_id", "name"),
        UniqueConstraint("group_id", "person_id"),
        Index(None, "person_id"),
        CheckConstraint(IS_ROLE, name="role"),
    )

    id: Mapped[Id]
    group_id: Mapped[Reference] = mapped_column(ForeignKey("groups.id"))
    person_id: Mapped[OptionalReference] = mapped_column(ForeignKey("people.id"))
    name: Mapped[Name]
    role: Mapped[str] = mapped_column(String(20))
    consent_version: Mapped[int | None]
    joined_at: Mapped[Moment]
    left_at: Mapped[datetime | None] = mapped_column(Utc)
    version: Mapped[int] = mapped_column(nullable=False, default=1, server_default="1")
    __mapper_args__ = {"version_id_col": version}


class Token(Base):
    """A bearer token, of which only the SHA-256 digest is kept; `scopes` are words with spaces."""

    __tablename__ = "tokens"
    __table_args__ = (UniqueConstraint("digest"), Index(None, "person_id"))

    id: Mapped[Id]
    person_id: Mapped[Reference] = mapped_column(ForeignKey("people.id"))
    digest: Mapped[str] = mapped_column(String(64))
    label: Mapped[Name]
    scopes: Mapped[str] = mapped_column(String(100), default=_EVERY, server_default=_EVERY)
    created_at: Mapped[Moment]
    last_used_at: Mapped[datetime | None] = mapped_column(Utc)
    expires_at: Mapped[datetime | None] = mapped_column(Utc)
    revoked_at: Mapped[datetime | None] = mapped_column(Utc)


class IdempotencyKey(Base):
    """The answer that a POST got, so that sending it again does nothing and answers the same."""

    __tablename__ = "idempotency_keys"
    __table_args__ = (
        UniqueConstraint("person_id", "key"),
        Index(None, "location"),
        Index(None, "person_id", "created_at"),
    )

    id: Mapped[Id]
    person_id: Mapped[Reference] = mapped_column(ForeignKey("people.id"))
    key: Mapped[str] = mapped_column(String(255))
    request_digest: Mapped[str] = mapped_column(String(64))
    status: Mapped[int]
    location: Mapped[str | None] = mapped_column(String(500))
    etag: Mapped[str | None] = mapped_column(String(100))
    body: Mapped[str]
    created_at: Mapped[Moment]
