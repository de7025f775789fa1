"""What all tables share: names of constraints, identifiers, and moments in UTC."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated, Any

from sqlalchemy import (
    CheckConstraint,
    DateTime,
    Dialect,
    Index,
    MetaData,
    String,
    TypeDecorator,
    text,
)
from sqlalchemy.orm import DeclarativeBase, mapped_column
from uuid_utils import uuid7

from models.domain.quantities import Quantity

CONVENTION = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}


def new_id() -> str:
    """Return a new opaque identifier; later ones sort after earlier ones."""
    return uuid7().hex


class Utc(TypeDecorator[datetime]):
    """A moment: aware and in UTC in Python, whatever the database keeps."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Refuse a moment without a zone, store UTC."""
        if value is not None and value.tzinfo is None:
            raise ValueError(f"{value} has no time zone")
        return None if value is None else value.astimezone(UTC)

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:
        """Return what was stored, in UTC."""
        if value is None:
            return None
        moment: datetime = value
        return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)


def now() -> datetime:
    """Return this moment in UTC."""
    return datetime.now(UTC)


Id = Annotated[str, mapped_column(String(32), default=new_id, primary_key=True)]
Reference = Annotated[str, mapped_column(String(32))]
OptionalReference = Annotated[str | None, mapped_column(String(32))]
Moment = Annotated[datetime, mapped_column(Utc, default=now)]
Name = Annotated[str, mapped_column(String(80))]


def within(quantity: Quantity) -> CheckConstraint:
    """Return the check that keeps a column inside a quantity's limits."""
    low, high = f"{quantity.low:g}", f"{quantity.high:g}"
    return CheckConstraint(f"{quantity.name} BETWEEN {low} AND {high}", name=quantity.name)


def if_named(column: str) -> Index:
    """Return an index on references that most rows leave empty; those rows are not in it."""
    named = text(f"{column} IS NOT NULL")
    return Index(None, "group_id", column, sqlite_where=named, postgresql_where=named)


class Base(DeclarativeBase):
    """Root of all rows."""

    metadata = MetaData(naming_convention=CONVENTION)
