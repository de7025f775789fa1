"""Who is acting, in which group, as what."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import ColumnElement

from models.domain.errors import Forbidden
from models.domain.roles import Action, Role, may
from models.tables.learned import Suggestion
from models.tables.socks import Foot, Report

Owned = Foot | Report | Suggestion
"""Rows that belong to one member of a group."""


@dataclass(frozen=True)
class Actor:
    """A member acting in one group; `member_id` is None for the operator at the command line."""

    group_id: str
    role: Role
    member_id: str | None
    name: str

    def require(self, action: Action) -> None:
        """Raise `Forbidden` where the role does not allow an action."""
        if not may(self.role, action):
            raise Forbidden(f"a {self.role} may not {action}")

    def may(self, action: Action) -> bool:
        """Return whether the role allows an action."""
        return may(self.role, action)

    def sees(self, kind: type[Owned]) -> list[ColumnElement[bool]]:
        """Return the conditions that narrow rows to those the actor may see: own ones, or all."""
        conditions: list[ColumnElement[bool]] = [kind.group_id == self.group_id]
        if not self.may(Action.READ_EVERY_REPORT):
            conditions.append(kind.member_id == self.member_id)
        return conditions


def operator(group_id: str) -> Actor:
    """Return the actor that somebody with access to the database itself is."""
    return Actor(group_id, Role.STEWARD, None, "operator")
