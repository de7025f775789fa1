"""What the members of a group have agreed to."""

from __future__ import annotations

from collections.abc import Collection

from sqlalchemy import select
from sqlalchemy.orm import Session

from models.tables.people import Member


def consents(session: Session, member_ids: Collection[str]) -> dict[str, int | None]:
    """Return the version of the consent that holds for each of some members now.

    None holds for a reporter who has not joined, nor for a member who has left.
    """
    query = select(Member.id, Member.consent_version, Member.left_at)
    rows = session.execute(query.where(Member.id.in_(member_ids)))
    return {row.id: row.consent_version if row.left_at is None else None for row in rows}
