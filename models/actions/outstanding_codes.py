"""Codes that stewards handed out and nobody has used yet: invitations and password resets.

A code speaks for whoever made it, so it is good no longer than its maker may make such codes. What
ends a stewardship revokes it here, and whoever uses a code is checked against its maker again.
"""

from __future__ import annotations

from collections.abc import Collection

from sqlalchemy import ColumnElement, exists, or_, select, update
from sqlalchemy.orm import Session

from models.domain.roles import Role
from models.tables.accounts import PasswordReset
from models.tables.base import now
from models.tables.invitations import Invitation
from models.tables.people import Member

PRESENT = (Member.person_id.is_not(None), Member.left_at.is_(None))
"""The conditions for members who have joined and not left."""

STEWARDS = (Member.role == Role.STEWARD.value, *PRESENT)
"""The conditions for members who are stewards now."""


def made_by_a_steward() -> ColumnElement[bool]:
    """Return the condition for invitations of the operator, or of somebody who is a steward now."""
    maker = exists().where(Member.id == Invitation.member_id, *STEWARDS)
    return or_(Invitation.member_id.is_(None), maker)


def leads_all_groups_of(session: Session, steward_id: str, person_id: str) -> bool:
    """Return whether a person is steward of every group in which another has, or had, a place."""
    led = select(Member.group_id).where(Member.person_id == steward_id, *STEWARDS)
    elsewhere = select(Member.id).where(Member.person_id == person_id, Member.group_id.not_in(led))
    return session.scalar(elsewhere.limit(1)) is None


def revoke_codes_of(session: Session, places: Collection[Member]) -> None:
    """Revoke what members handed out: invitations to their groups, resets of anybody's password."""
    moment = now()
    session.execute(
        update(Invitation)
        .where(Invitation.member_id.in_([place.id for place in places]))
        .where(Invitation.revoked_at.is_(None))
        .values(revoked_at=moment)
    )
    people = [place.person_id for place in places if place.person_id is not None]
    void_resets(session, PasswordReset.issuer_id.in_(people))


def void_resets_for(session: Session, person_id: str) -> None:
    """Void the codes that stewards issued for a person; the operator's stay good."""
    void_resets(session, PasswordReset.person_id == person_id, PasswordReset.issuer_id.is_not(None))


def void_resets(session: Session, *which: ColumnElement[bool]) -> None:
    """Let codes for a new password count as used."""
    unused = PasswordReset.used_at.is_(None)
    session.execute(update(PasswordReset).where(unused, *which).values(used_at=now()))
