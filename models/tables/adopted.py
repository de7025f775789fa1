"""What designers made of calibrated defaults: adoptions, each with what was before."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import JSON, ForeignKey, ForeignKeyConstraint, Index, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from models.tables.base import Base, Id, Moment, OptionalReference, Reference, Utc


class Adoption(Base):
    """Sizes of a design got new figures; `changes` lists each with its figures before and after.

    `member_id` is None where the operator adopted, `calibration_id` where geometry alone answered.
    An adoption that was undone stays, with the moment and who undid it.
    """

    __tablename__ = "adoptions"
    __table_args__ = (
        UniqueConstraint("group_id", "id"),
        ForeignKeyConstraint(["group_id", "design_id"], ["designs.group_id", "designs.id"]),
        ForeignKeyConstraint(["group_id", "member_id"], ["members.group_id", "members.id"]),
        ForeignKeyConstraint(["group_id", "undone_by_id"], ["members.group_id", "members.id"]),
        ForeignKeyConstraint(
            ["group_id", "calibration_id"], ["calibrations.group_id", "calibrations.id"]
        ),
        Index(None, "group_id", "design_id"),
    )

    id: Mapped[Id]
    group_id: Mapped[Reference] = mapped_column(ForeignKey("groups.id"))
    design_id: Mapped[Reference]
    member_id: Mapped[OptionalReference]
    calibration_id: Mapped[OptionalReference]
    changes: Mapped[list[dict[str, Any]]] = mapped_column(JSON)
    created_at: Mapped[Moment]
    undone_at: Mapped[datetime | None] = mapped_column(Utc)
    undone_by_id: Mapped[OptionalReference]
