"""The names of a group's members, told apart as people tell them apart.

Capitals and spaces make no other name: `birch` is Birch. A new name that only looks like another is
refused, for nobody could say whose socks are whose. Names that clash from before stay.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from models.actions.look_alikes import skeleton
from models.domain.errors import Fault, Invalid
from models.domain.texts import name_key
from models.tables.people import Member


@dataclass(frozen=True)
class Named:
    """A member by name; `person_id` is None where nobody has joined."""

    id: str
    name: str
    person_id: str | None


@dataclass
class GroupNames:
    """The members of one group by what tells their names apart, the oldest first."""

    _exact: dict[str, Named] = field(default_factory=dict)
    _by_key: dict[str, Named] = field(default_factory=dict)
    _by_skeleton: dict[str, Named] = field(default_factory=dict)

    @classmethod
    def read(cls, session: Session, group_id: str, *, without: str | None = None) -> GroupNames:
        """Return the names of a group, `without` that of one member."""
        found = cls()
        query = select(Member.id, Member.name, Member.person_id).where(Member.group_id == group_id)
        for row in session.execute(query.order_by(Member.id)):
            if row.id != without:
                found.add(Named(row.id, row.name, row.person_id))
        return found

    def add(self, member: Named) -> None:
        """Add a member."""
        self._exact[member.name] = member
        self._by_key.setdefault(name_key(member.name), member)
        self._by_skeleton.setdefault(skeleton(member.name), member)

    def same(self, name: str) -> Named | None:
        """Return the member of a name, whatever its capitals and spaces."""
        return self._exact.get(name) or self._by_key.get(name_key(name))

    def look_alike(self, name: str) -> Named | None:
        """Return the member whose other name looks like this one, which nobody has."""
        return None if self.same(name) else self._by_skeleton.get(skeleton(name))

    def require_new(self, field: str, name: str) -> None:
        """Refuse a name for a new member that somebody has, or that looks like another.

        Raises
        ------
        Invalid
            Where it is one of these.

        """
        if self.same(name) is not None:
            wanted = "somebody in the group has that name: choose another"
            raise Invalid([Fault(field, name, wanted)])
        self.require_distinct(field, name)

    def require_distinct(self, field: str, name: str) -> None:
        """Refuse a name that nobody has but that looks like another.

        Raises
        ------
        Invalid
            Where it does.

        """
        other = self.look_alike(name)
        if other is not None:
            raise Invalid([looks_like(field, name, other)])


def looks_like(field: str, name: str, other: Named) -> Fault:
    """Return what is wrong with a name that looks like another's."""
    wanted = f"it looks like {other.name}, spelt otherwise: use that name, or one that looks unlike"
    return Fault(field, name, wanted)


def member_of_name(session: Session, group_id: str, name: str) -> Any:
    """Return the id and the person of the member of a name, None where there is none."""
    exact = select(Member.id, Member.person_id).where(Member.group_id == group_id)
    found = session.execute(exact.where(Member.name == name)).first()
    return found or GroupNames.read(session, group_id).same(name)
