"""Usernames with passwords, the sessions they open, and one-time resets."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import ForeignKey, Index, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from models.tables.base import Base, Id, Moment, OptionalReference, Reference, Utc


class Account(Base):
    """How a person logs in to pages; `reset_at` is when a code last replaced the password.

    `notice_at` is when it was replaced, until the next login has said so.
    """

    __tablename__ = "accounts"
    __table_args__ = (UniqueConstraint("person_id"), UniqueConstraint("username"))

    id: Mapped[Id]
    person_id: Mapped[Reference] = mapped_column(ForeignKey("people.id"))
    username: Mapped[str] = mapped_column(String(40))
    password_hash: Mapped[str] = mapped_column(String(200))
    created_at: Mapped[Moment]
    changed_at: Mapped[Moment]
    reset_at: Mapped[datetime | None] = mapped_column(Utc)
    notice_at: Mapped[datetime | None] = mapped_column(Utc)


class LoginSession(Base):
    """Somebody logged in, of whose session id only the SHA-256 digest is kept."""

    __tablename__ = "login_sessions"
    __table_args__ = (UniqueConstraint("digest"), Index(None, "person_id"))

    id: Mapped[Id]
    person_id: Mapped[Reference] = mapped_column(ForeignKey("people.id"))
    digest: Mapped[str] = mapped_column(String(64))
    created_at: Mapped[Moment]
    expires_at: Mapped[datetime] = mapped_column(Utc)


class PasswordReset(Base):
    """A code that sets a new password once; `issuer_id` is None where the operator issued it."""

    __tablename__ = "password_resets"
    __table_args__ = (
        UniqueConstraint("digest"),
        Index(None, "person_id"),
        Index(None, "issuer_id"),
    )

    id: Mapped[Id]
    person_id: Mapped[Reference] = mapped_column(ForeignKey("people.id"))
    issuer_id: Mapped[OptionalReference] = mapped_column(ForeignKey("people.id"))
    digest: Mapped[str] = mapped_column(String(64))
    created_at: Mapped[Moment]
    expires_at: Mapped[datetime] = mapped_column(Utc)
    used_at: Mapped[datetime | None] = mapped_column(Utc)
