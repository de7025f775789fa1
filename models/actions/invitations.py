"""Inviting people into a group: the code is shown once, kept as a digest and runs out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Select, select, update
from sqlalchemy.orm import Session

from models.actions.actor import Actor
from models.actions.paging import Page, page
from models.actions.reporters import place_of
from models.domain import codes
from models.domain.errors import Fault, Invalid, NotFound
from models.domain.joining import USUAL_DAYS
from models.domain.roles import Action, Role
from models.tables.base import now
from models.tables.invitations import Invitation
from models.tables.people import Member

INVITATION_COLUMNS: tuple[Any, ...] = (
    Invitation.id,
    Invitation.role,
    Member.name.label("reporter"),
    Invitation.uses,
    Invitation.uses_left,
    Invitation.created_at,
    Invitation.expires_at,
    Invitation.revoked_at,
)


@dataclass(frozen=True)
class Terms:
    """What an invitation is good for; `reporter` names whose place it gives, for one person."""

    role: Role = Role.KNITTER
    uses: int = 1
    days: int = USUAL_DAYS
    reporter: str | None = None


def invite(
    session: Session, actor: Actor, terms: Terms, no_later: datetime | None = None
) -> tuple[str, Mapping[str, Any]]:
    """Return a new code, which can never be read again, and its invitation.

    It ends no later than a moment, where one is given: that at which the token that asks ends.

    Raises
    ------
    Invalid
        Where it names a reporter whom the group does not have or who has joined, or gives one
        place to several people.
    Forbidden
        Where it gives a role, or a reporter's place with all that was written down there, and the
        token is not good for that.

    """
    actor.require(Action.INVITE)
    if terms.role is not Role.KNITTER or terms.reporter is not None:
        actor.require(Action.APPOINT)
    code = codes.new_code(codes.INVITATION)
    ends = now() + timedelta(days=terms.days)
    row = Invitation(
        group_id=actor.group_id,
        member_id=actor.member_id,
        reporter_id=_place(session, actor, terms),
        digest=codes.digest(code),
        role=terms.role.value,
        uses=terms.uses,
        uses_left=terms.uses,
        expires_at=ends if no_later is None else min(ends, no_later),
    )
    session.add(row)
    session.flush()
    return code, read_invitation(session, actor, row.id)


def list_invitations(session: Session, actor: Actor, *, after: str | None, limit: int) -> Page:
    """Return a page of the group's invitations, oldest first, without codes."""
    actor.require(Action.INVITE)
    return page(session, _of_group(actor), Invitation.id, after=after, limit=limit)


def read_invitation(session: Session, actor: Actor, invitation_id: str) -> Mapping[str, Any]:
    """Return one invitation without its code.

    Raises
    ------
    NotFound
        Where the group has none such.

    """
    actor.require(Action.INVITE)
    query = _of_group(actor).where(Invitation.id == invitation_id)
    row = session.execute(query).mappings().first()
    if row is None:
        raise NotFound("no such invitation")
    return dict(row)


def revoke(session: Session, actor: Actor, invitation_id: str) -> None:
    """Revoke an invitation; revoking it again changes nothing.

    Raises
    ------
    NotFound
        Where the group has none such.

    """
    read_invitation(session, actor, invitation_id)
    session.execute(
        update(Invitation)
        .where(Invitation.group_id == actor.group_id, Invitation.id == invitation_id)
        .where(Invitation.revoked_at.is_(None))
        .values(revoked_at=now())
    )


def _of_group(actor: Actor) -> Select[Any]:
    query = select(*INVITATION_COLUMNS)
    return query.outerjoin(Member, Member.id == Invitation.reporter_id).where(
        Invitation.group_id == actor.group_id
    )


def _place(session: Session, actor: Actor, terms: Terms) -> str | None:
    """Return the id of the reporter whose place is given, or None."""
    if terms.reporter is None:
        return None
    if terms.uses != 1:
        raise Invalid([Fault("uses", terms.uses, "it must be 1 with a reporter: one place")])
    return place_of(session, actor, terms.reporter)
