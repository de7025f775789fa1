"""Who is asking: a person by what was shown, and what that person is in one group."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import ColumnElement, Select, and_, or_, select

from models.actions.reviewed import shown_to_stewards
from models.domain.errors import Forbidden
from models.domain.reviews import Status
from models.domain.roles import ALLOWED, EVERY_SCOPE, Action, Role, Scope, covers, in_order, may
from models.tables.learned import Suggestion
from models.tables.people import Member
from models.tables.socks import Foot, Report

Owned = Foot | Report | Suggestion
"""Rows that belong to one member of a group."""


@dataclass(frozen=True)
class Asker:
    """A person, with the scopes of the token that was shown; a session has all of them.

    `token_id` is None for a session, whose id's digest is `session_digest`.
    """

    person_id: str
    scopes: frozenset[Scope] = EVERY_SCOPE
    token_id: str | None = None
    session_digest: str | None = None

    def require(self, action: Action) -> None:
        """Raise `Forbidden` where the token is not made for an action."""
        require_scopes(self.scopes, action)


@dataclass(frozen=True)
class Actor:
    """A member acting in one group; `member_id` is None for the operator at the command line."""

    group_id: str
    role: Role
    member_id: str | None
    name: str
    scopes: frozenset[Scope] = EVERY_SCOPE

    @property
    def is_operator(self) -> bool:
        """Whether this is whoever has the database itself."""
        return self.member_id is None

    def require(self, action: Action) -> None:
        """Raise `Forbidden` where the role or the token does not allow an action."""
        if not may(self.role, action):
            raise Forbidden(f"a {self.role} may not {action}")
        require_scopes(self.scopes, action)

    def may(self, action: Action) -> bool:
        """Return whether role and token allow an action."""
        return may(self.role, action) and covers(self.scopes, action)

    def sees(self, kind: type[Owned]) -> list[ColumnElement[bool]]:
        """Return the conditions that narrow rows to those the actor may see.

        Those are the actor's own; for stewards also those of reporters who have not joined, which
        stewards wrote down themselves; for the operator all.
        """
        in_group = kind.group_id == self.group_id
        return [in_group] if self.is_operator else [in_group, self._owns(kind)]

    def sees_report(self) -> list[ColumnElement[bool]]:
        """Return the conditions for one report: those above, or held where the actor reviews.

        Of held ones, those whose content stewards may read.
        """
        if self.is_operator or not self.may(Action.REVIEW):
            return self.sees(Report)
        held = and_(Report.status == Status.HELD.value, shown_to_stewards())
        return [Report.group_id == self.group_id, or_(self._owns(Report), held)]

    def _owns(self, kind: type[Owned]) -> ColumnElement[bool]:
        own = kind.member_id == self.member_id
        if self.may(Action.RECORD_FOR_OTHERS):
            own = or_(own, kind.member_id.in_(_not_joined(self.group_id)))
        return own


def operator(group_id: str) -> Actor:
    """Return the actor that somebody with access to the database itself is."""
    return Actor(group_id, Role.STEWARD, None, "operator")


def require_scopes(scopes: frozenset[Scope], action: Action) -> None:
    """Raise `Forbidden` where scopes do not cover an action."""
    if not covers(scopes, action):
        needed = ", ".join(in_order(ALLOWED[action].scopes))
        raise Forbidden(f"this token may not {action}: that needs a token of scope {needed}")


def _not_joined(group_id: str) -> Select[str]:
    return select(Member.id).where(Member.group_id == group_id, Member.person_id.is_(None))
