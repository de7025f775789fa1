"""What the members of a group have agreed to."""

from __future__ import annotations

from collections.abc import Collection

from sqlalchemy import bindparam, select
from sqlalchemy.orm import Session

from models.tables.people import Member

_OF = select(Member.id, Member.consent_version, Member.left_at).where(
    Member.id.in_(bindparam("ids", expanding=True))
)


def consents(session: Session, member_ids: Collection[str]) -> dict[str, int | None]:
    """Return the version of the consent that holds for each of some members now.

    None holds for a reporter who has not joined, nor for a member who has left.
    """
    rows = session.connection().execute(_OF, {"ids": list(member_ids)})
    return {of: version if left_at is None else None for of, version, left_at in rows}
