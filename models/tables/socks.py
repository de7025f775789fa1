"""Feet, yarns, designs, sizes and reports. Every row belongs to one group.

References carry the group along, so that the database itself refuses a report in one group on a
foot of another.
"""

from __future__ import annotations

from datetime import date

from sqlalchemy import (
    CheckConstraint,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    String,
    UniqueConstraint,
)
from sqlalchemy.orm import Mapped, mapped_column

from models.domain.foot import MEASUREMENTS
from models.domain.quantities import DECREASES_PER_ROUND, USUAL_DECREASES_PER_ROUND, YARN_WEIGHT
from models.domain.reports import AFTERWARDS, SOCK
from models.domain.reviews import Reason, Status
from models.domain.sizes import NUMBERS, OPTIONAL_NUMBERS
from models.tables.base import (
    Base,
    Id,
    Moment,
    Name,
    OptionalReference,
    Reference,
    if_named,
    within,
)

_STATUSES = ", ".join(f"'{status}'" for status in Status)
_REASONS = ", ".join(f"'{reason}'" for reason in Reason)


def _in_group(column: str, table: str) -> ForeignKeyConstraint:
    return ForeignKeyConstraint(["group_id", column], [f"{table}.group_id", f"{table}.id"])


class Foot(Base):
    """One foot as measured on one day; measuring again makes another row."""

    __tablename__ = "feet"
    __table_args__ = (
        UniqueConstraint("group_id", "id"),
        _in_group("member_id", "members"),
        Index(None, "group_id", "member_id", "id"),
        *map(within, MEASUREMENTS),
    )

    id: Mapped[Id]
    group_id: Mapped[Reference] = mapped_column(ForeignKey("groups.id"))
    member_id: Mapped[Reference]
    label: Mapped[str | None] = mapped_column(String(80))
    foot_length_mm: Mapped[float]
    foot_circumference_mm: Mapped[float]
    heel_diagonal_mm: Mapped[float | None]
    ankle_circumference_mm: Mapped[float | None]
    measured_on: Mapped[date | None]
    created_at: Mapped[Moment]


class Yarn(Base):
    """A yarn that a group knits with."""

    __tablename__ = "yarns"
    __table_args__ = (
        UniqueConstraint("group_id", "id"),
        UniqueConstraint("group_id", "name"),
        within(YARN_WEIGHT),
        CheckConstraint("metres_per_100g > 0", name="metres_per_100g"),
    )

    id: Mapped[Id]
    group_id: Mapped[Reference] = mapped_column(ForeignKey("groups.id"))
    name: Mapped[Name]
    yarn_weight: Mapped[int]
    metres_per_100g: Mapped[float | None]
    created_at: Mapped[Moment]


class Design(Base):
    """A sock design, by the name its group gives it."""

    __tablename__ = "designs"
    __table_args__ = (UniqueConstraint("group_id", "id"), UniqueConstraint("group_id", "name"))

    id: Mapped[Id]
    group_id: Mapped[Reference] = mapped_column(ForeignKey("groups.id"))
    name: Mapped[Name]
    version: Mapped[int] = mapped_column(nullable=False, default=1)
    created_at: Mapped[Moment]
    __mapper_args__ = {"version_id_col": version}


class Size(Base):
    """One size of a design: the feet it is meant for and the schedule it prints today.

    Sizes are listed by `position`; one that was only named in a report has none of the numbers.
    """

    __tablename__ = "sizes"
    __table_args__ = (
        UniqueConstraint("group_id", "id"),
        UniqueConstraint("group_id", "design_id", "label"),
        _in_group("design_id", "designs"),
        *map(within, (*NUMBERS, *OPTIONAL_NUMBERS)),
    )

    id: Mapped[Id]
    group_id: Mapped[Reference] = mapped_column(ForeignKey("groups.id"))
    design_id: Mapped[Reference]
    label: Mapped[str] = mapped_column(String(40))
    position: Mapped[int] = mapped_column(default=0, server_default="0")
    foot_length_low_mm: Mapped[float | None]
    foot_length_high_mm: Mapped[float | None]
    foot_circumference_low_mm: Mapped[float | None]
    foot_circumference_high_mm: Mapped[float | None]
    yarn_weight: Mapped[int | None]
    stitches_per_10cm: Mapped[float | None]
    rounds_per_10cm: Mapped[float | None]
    heel_stitches: Mapped[int | None]
    closing_stitches: Mapped[int | None]
    plain_rounds: Mapped[int | None]
    slow_decrease_rounds: Mapped[int | None]
    medium_decrease_rounds: Mapped[int | None]
    decreases_per_round: Mapped[int | None]
    version: Mapped[int] = mapped_column(nullable=False, default=1)
    created_at: Mapped[Moment]
    __mapper_args__ = {"version_id_col": version}


class Report(Base):
    """One finished sock on one foot, with its fit score.

    `consent_version` is what its reporter had agreed to when it came, None where nobody had joined.
    """

    __tablename__ = "reports"
    __table_args__ = (
        UniqueConstraint("group_id", "id"),
        _in_group("member_id", "members"),
        _in_group("foot_id", "feet"),
        _in_group("yarn_id", "yarns"),
        _in_group("design_id", "designs"),
        _in_group("size_id", "sizes"),
        _in_group("suggestion_id", "suggestions"),
        Index(None, "group_id", "member_id", "id"),
        Index(None, "group_id", "foot_id"),
        *map(if_named, ("yarn_id", "design_id", "size_id", "suggestion_id")),
        *map(within, (*SOCK, DECREASES_PER_ROUND, *AFTERWARDS)),
        CheckConstraint(f"status IN ({_STATUSES})", name="status"),
        Index(None, "group_id", "status", "id"),
        Index(None, "group_id", "version"),
    )

    id: Mapped[Id]
    group_id: Mapped[Reference] = mapped_column(ForeignKey("groups.id"))
    member_id: Mapped[Reference]
    foot_id: Mapped[Reference]
    yarn_id: Mapped[OptionalReference]
    design_id: Mapped[OptionalReference]
    size_id: Mapped[OptionalReference]
    suggestion_id: Mapped[OptionalReference]
    yarn_weight: Mapped[int]
    stitches_per_10cm: Mapped[float]
    rounds_per_10cm: Mapped[float]
    heel_stitches: Mapped[int]
    decreases_per_round: Mapped[int] = mapped_column(default=USUAL_DECREASES_PER_ROUND)
    plain_rounds: Mapped[int]
    slow_decrease_rounds: Mapped[int]
    medium_decrease_rounds: Mapped[int]
    fast_decrease_rounds: Mapped[int]
    fit_score: Mapped[int]
    knitted_on: Mapped[date | None]
    times_washed: Mapped[int | None]
    times_worn: Mapped[int | None]
    pulls_at_instep: Mapped[int | None]
    slides_down: Mapped[int | None]
    bags_under_heel: Mapped[int | None]
    bags_behind_heel: Mapped[int | None]
    holes_at_corners: Mapped[int | None]
    worn_through: Mapped[int | None]
    notes: Mapped[str | None] = mapped_column(String(2000))
    consent_version: Mapped[int | None]
    status: Mapped[str] = mapped_column(String(20), server_default=Status.COUNTED.value)
    version: Mapped[int] = mapped_column(nullable=False, default=1)
    created_at: Mapped[Moment]
    updated_at: Mapped[Moment]
    __mapper_args__ = {"version_id_col": version}


class Review(Base):
    """One step in what became of a report: never changed, only added to.

    `member_id` is None where the service itself doubted the report, `reason` where a steward
    decided; `text` says what was found or what the steward noted.
    """

    __tablename__ = "reviews"
    __table_args__ = (
        UniqueConstraint("group_id", "id"),
        _in_group("report_id", "reports"),
        _in_group("member_id", "members"),
        CheckConstraint(f"status IN ({_STATUSES})", name="status"),
        CheckConstraint(f"reason IN ({_REASONS})", name="reason"),
        Index(None, "group_id", "report_id"),
        if_named("member_id"),
    )

    id: Mapped[Id]
    group_id: Mapped[Reference] = mapped_column(ForeignKey("groups.id"))
    report_id: Mapped[Reference]
    member_id: Mapped[OptionalReference]
    status: Mapped[str] = mapped_column(String(20))
    reason: Mapped[str | None] = mapped_column(String(40))
    text: Mapped[str | None] = mapped_column(String(500))
    created_at: Mapped[Moment]
