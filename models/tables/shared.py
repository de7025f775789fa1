"""What a group gives to the wider pool and takes from it: summaries as JSON, never rows."""

from __future__ import annotations

from typing import Any

from sqlalchemy import JSON, ForeignKey, ForeignKeyConstraint, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from models.tables.base import Base, Id, Moment, OptionalReference, Reference


class Contribution(Base):
    """The summary of one of a group's calibrations, there for other groups; at most one a group.

    `member_id` is None where the operator shared it. Revoking deletes the row.
    """

    __tablename__ = "contributions"
    __table_args__ = (
        UniqueConstraint("group_id"),
        ForeignKeyConstraint(["group_id", "member_id"], ["members.group_id", "members.id"]),
        ForeignKeyConstraint(
            ["group_id", "calibration_id"], ["calibrations.group_id", "calibrations.id"]
        ),
    )

    id: Mapped[Id]
    group_id: Mapped[Reference] = mapped_column(ForeignKey("groups.id"))
    calibration_id: Mapped[Reference]
    member_id: Mapped[OptionalReference]
    summary: Mapped[dict[str, Any]] = mapped_column(JSON)
    created_at: Mapped[Moment]


class PoolUse(Base):
    """A group begins its calibrations with the wider pool, as long as the row is there."""

    __tablename__ = "pool_uses"
    __table_args__ = (
        UniqueConstraint("group_id"),
        ForeignKeyConstraint(["group_id", "member_id"], ["members.group_id", "members.id"]),
    )

    id: Mapped[Id]
    group_id: Mapped[Reference] = mapped_column(ForeignKey("groups.id"))
    member_id: Mapped[OptionalReference]
    created_at: Mapped[Moment]


class TakenSummary(Base):
    """A summary from another installation, for the calibrations of the group that took it in."""

    __tablename__ = "taken_summaries"
    __table_args__ = (
        UniqueConstraint("group_id", "origin"),
        ForeignKeyConstraint(["group_id", "member_id"], ["members.group_id", "members.id"]),
    )

    id: Mapped[Id]
    group_id: Mapped[Reference] = mapped_column(ForeignKey("groups.id"))
    origin: Mapped[str] = mapped_column(String(32))
    member_id: Mapped[OptionalReference]
    summary: Mapped[dict[str, Any]] = mapped_column(JSON)
    created_at: Mapped[Moment]
