"""What stays of people who were erased: nothing that says who they were."""

from __future__ import annotations

from typing import Any

from sqlalchemy import JSON, ForeignKey, Index, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from models.tables.base import Base, Id, Moment, Reference


class Erasure(Base):
    """A member or a person was erased; `digest` is the SHA-256 of the random id they had.

    With it the erasure can be done again in a backup that was made before.
    """

    __tablename__ = "erasures"
    __table_args__ = (UniqueConstraint("digest"),)

    id: Mapped[Id]
    digest: Mapped[str] = mapped_column(String(64))
    created_at: Mapped[Moment]


class ShownFigures(Base):
    """Figures that were shown, of a calibration that was erased along with somebody.

    `people` maps those who are left of whom they rested on, as `Calibration.people` does; `erased`
    counts the others.
    """

    __tablename__ = "shown_figures"
    __table_args__ = (Index(None, "group_id"),)

    id: Mapped[Id]
    group_id: Mapped[Reference] = mapped_column(ForeignKey("groups.id"))
    people: Mapped[dict[str, Any]] = mapped_column(JSON)
    erased: Mapped[int]


class ShownSlice(Base):
    """A slice that was shown and is no more; `people` and `erased` are as of `ShownFigures`."""

    __tablename__ = "shown_slices"
    __table_args__ = (Index(None, "group_id"),)

    id: Mapped[Id]
    group_id: Mapped[Reference] = mapped_column(ForeignKey("groups.id"))
    number: Mapped[int]
    people: Mapped[dict[str, Any]] = mapped_column(JSON)
    erased: Mapped[int]
