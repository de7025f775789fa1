"""Answers that were worked out and can be given again."""

from __future__ import annotations

from sqlalchemy import ForeignKey, String, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from models.tables.base import Base, Id, Moment, Reference


class KeptResult(Base):
    """What took long to work out of a group, as JSON, under a digest of all it follows from.

    It says nothing that the other rows do not: it may go at any time, and is in no backup.
    """

    __tablename__ = "kept_results"
    __table_args__ = (UniqueConstraint("group_id", "kind", "key"),)

    id: Mapped[Id]
    group_id: Mapped[Reference] = mapped_column(ForeignKey("groups.id"))
    kind: Mapped[str] = mapped_column(String(20))
    key: Mapped[str] = mapped_column(String(64))
    body: Mapped[str] = mapped_column(Text)
    created_at: Mapped[Moment]
