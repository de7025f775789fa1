"""The names of a group's members, told apart as people tell them apart.

Capitals and spaces make no other name: `birch` is Birch. A new name that only looks like another is
refused, for nobody could say whose socks are whose. Names that clash from before stay.
"""

from __future__ import annotations

from collections.abc import Callable
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


Style = Callable[[str], str]
STYLES: tuple[Style, ...] = (str, str.lower, str.upper, str.title)
"""As written, and the ways to write a name in capitals that make no other name."""


@dataclass
class GroupNames:
    """The members of one group by what tells their names apart, the oldest first."""

    _exact: dict[str, Named] = field(default_factory=dict)
    _by_key: dict[str, list[Named]] = field(default_factory=dict)
    _by_face: dict[Style, dict[str, Named]] = field(default_factory=dict)

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
        self._by_key.setdefault(name_key(member.name), []).append(member)
        for style, faces in self._by_face.items():
            faces.setdefault(skeleton(style(member.name)), member)

    def same(self, name: str) -> Named | None:
        """Return the member of a name, whatever its capitals and spaces.

        Where names clash from before, it is the one whose name is spelt so, else nobody's.
        """
        exact, alike = self._exact.get(name), self._by_key.get(name_key(name), [])
        return exact or (alike[0] if len(alike) == 1 else None)

    def look_alike(self, name: str) -> Named | None:
        """Return the member whose other name looks like this one in the capitals it is written in.

        "IAN" looks like "lan", so "lan" is refused beside Ian; Lan is not.
        """
        for style in STYLES:
            if style(name) == name:
                found = self._faces(style).get(skeleton(name))
                if found is not None:
                    return found
        return None

    def unclear(self, field: str, name: str) -> Fault | None:
        """Return what is wrong with a name that may mean more than one, None where it does not."""
        alike = self._by_key.get(name_key(name), [])
        if self.same(name) is not None or not alike:
            return None
        spelt = " or ".join(one.name for one in alike[:_SAID])
        return Fault(field, name, f"more than one has that name: write it as {spelt}")

    def fault(self, field: str, name: str) -> Fault | None:
        """Return what is wrong with a name that `same` finds nobody by, None where it is new."""
        unclear, other = self.unclear(field, name), self.look_alike(name)
        if unclear is not None or other is None:
            return unclear
        wanted = f"it looks like {other.name}, spelt otherwise: use that name, or one that "
        return Fault(field, name, wanted + "looks unlike")

    def require_new(self, field: str, name: str) -> None:
        """Refuse a name for a new member that somebody has, or that looks like another.

        Raises
        ------
        Invalid
            Where it is one of these.

        """
        if name_key(name) in self._by_key:
            wanted = "somebody in the group has that name: choose another"
            raise Invalid([Fault(field, name, wanted)])
        self.require_clear(field, name)

    def require_clear(self, field: str, name: str) -> None:
        """Refuse a name that `same` finds nobody by, and that is not simply new.

        Raises
        ------
        Invalid
            Where more than one may be meant, or it looks like another's.

        """
        wrong = self.fault(field, name)
        if wrong is not None:
            raise Invalid([wrong])

    def _faces(self, style: Style) -> dict[str, Named]:
        if style not in self._by_face:
            faces = self._by_face[style] = {}
            for member in self._exact.values():
                faces.setdefault(skeleton(style(member.name)), member)
        return self._by_face[style]


_SAID = 5
"""How many of those who may be meant are named."""


def member_of_name(session: Session, group_id: str, field: str, name: str) -> Any:
    """Return the id and the person of the member of a name, None where there is none.

    Raises
    ------
    Invalid
        Where more than one may be meant.

    """
    exact = select(Member.id, Member.person_id).where(Member.group_id == group_id)
    found = session.execute(exact.where(Member.name == name)).first()
    if found is not None:
        return found
    names = GroupNames.read(session, group_id)
    unclear = names.unclear(field, name)
    if unclear is not None:
        raise Invalid([unclear])
    return names.same(name)
