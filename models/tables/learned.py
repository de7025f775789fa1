"""Calibrations, which of them is active, and the suggestions that were given."""

from __future__ import annotations

from typing import Any

from sqlalchemy import (
    JSON,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    String,
    UniqueConstraint,
    false,
)
from sqlalchemy.orm import Mapped, mapped_column

from models.tables.base import Base, Id, Moment, OptionalReference, Reference, if_named


class Calibration(Base):
    """One fitted model of a group, as JSON, with the evidence it rests on.

    `diagnostics` holds how it was judged before it could answer, and what its card shows. `people`
    maps the members it rests on to digests of what each reported; `published` says whether its
    figures may be shown beside those that were shown before.
    """

    __tablename__ = "calibrations"
    __table_args__ = (UniqueConstraint("group_id", "id"), UniqueConstraint("group_id", "number"))

    id: Mapped[Id]
    group_id: Mapped[Reference] = mapped_column(ForeignKey("groups.id"))
    number: Mapped[int]
    reports: Mapped[int]
    reporters: Mapped[int]
    fingerprint: Mapped[str] = mapped_column(String(64))
    artefact: Mapped[dict[str, Any]] = mapped_column(JSON)
    diagnostics: Mapped[dict[str, Any] | None] = mapped_column(JSON)
    people: Mapped[dict[str, str] | None] = mapped_column(JSON)
    published: Mapped[bool] = mapped_column(default=False, server_default=false())
    created_at: Mapped[Moment]


class Activation(Base):
    """A calibration was made the one that answers; the latest of a group counts.

    `member_id` is None where the operator or the service itself chose, `reason` says why.
    """

    __tablename__ = "activations"
    __table_args__ = (
        ForeignKeyConstraint(
            ["group_id", "calibration_id"], ["calibrations.group_id", "calibrations.id"]
        ),
        ForeignKeyConstraint(["group_id", "member_id"], ["members.group_id", "members.id"]),
        Index(None, "group_id", "id"),
    )

    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=True)
    group_id: Mapped[Reference] = mapped_column(ForeignKey("groups.id"))
    calibration_id: Mapped[Reference]
    member_id: Mapped[OptionalReference]
    reason: Mapped[str | None] = mapped_column(String(500))
    created_at: Mapped[Moment]


class Suggestion(Base):
    """A question and the answer it got, as JSON, naming the calibration it came from."""

    __tablename__ = "suggestions"
    __table_args__ = (
        UniqueConstraint("group_id", "id"),
        ForeignKeyConstraint(["group_id", "member_id"], ["members.group_id", "members.id"]),
        ForeignKeyConstraint(
            ["group_id", "calibration_id"], ["calibrations.group_id", "calibrations.id"]
        ),
        Index(None, "group_id", "member_id", "id"),
        if_named("calibration_id"),
    )

    id: Mapped[Id]
    group_id: Mapped[Reference] = mapped_column(ForeignKey("groups.id"))
    member_id: Mapped[Reference]
    calibration_id: Mapped[OptionalReference]
    question: Mapped[dict[str, Any]] = mapped_column(JSON)
    answer: Mapped[dict[str, Any]] = mapped_column(JSON)
    created_at: Mapped[Moment]
