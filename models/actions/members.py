"""Members of a group: who is one, in which role, and how that ends."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session

from models.actions.actor import Actor
from models.actions.group_names import member_of_name
from models.actions.outstanding_codes import PRESENT, STEWARDS, revoke_codes_of
from models.actions.paging import Page, page
from models.actions.turns import take_turns
from models.domain.errors import Conflict, Forbidden, NotFound
from models.domain.roles import Action, Role
from models.tables.base import now
from models.tables.people import Member

MEMBER_COLUMNS: tuple[Any, ...] = (
    Member.id,
    Member.name,
    Member.role,
    Member.person_id.is_not(None).label("joined"),
    Member.joined_at,
    Member.left_at,
    Member.version,
)

LAST_STEWARD = "the group would be left without a steward: make somebody else steward first"


def list_members(session: Session, actor: Actor, *, after: str | None, limit: int) -> Page:
    """Return a page of the members that the actor may see: stewards all, others themselves."""
    actor.require(Action.READ_GROUP)
    return page(session, _visible(actor), Member.id, after=after, limit=limit)


def counts(session: Session, actor: Actor) -> dict[str, int]:
    """Return how many people of each role are in the group."""
    query = (
        select(Member.role, func.count().label("people"))
        .where(Member.group_id == actor.group_id, *PRESENT)
        .group_by(Member.role)
    )
    found = {row.role: row.people for row in session.execute(query)}
    return {role.value: found.get(role, 0) for role in Role}


def read_member(session: Session, actor: Actor, member_id: str) -> Mapping[str, Any]:
    """Return one member.

    Raises
    ------
    NotFound
        Where there is none that the actor may see.

    """
    row = session.execute(_visible(actor).where(Member.id == member_id)).mappings().first()
    if row is None:
        raise NotFound("no such member")
    return dict(row)


def member_to_change(session: Session, actor: Actor, member_id: str) -> Member:
    """Return a member whose place is about to change; nobody else changes one meanwhile.

    Raises
    ------
    Forbidden
        Where the actor was a steward when it was asked, and is none any more.
    NotFound
        Where the group has no such member.
    Conflict
        Where nobody joined as this member, or left again.

    """
    actor.require(Action.KEEP_MEMBERS)
    take_turns(session, actor.group_id)
    _require_still_steward(session, actor)
    return _present_member(session, actor, Member.id == member_id)


def change_role(session: Session, actor: Actor, member: Member, role: Role) -> None:
    """Give a member another role; the codes of somebody who is no steward any more are revoked.

    Raises
    ------
    Conflict
        Where the last steward would be none any more.

    """
    actor.require(Action.APPOINT)
    if role is not Role.STEWARD:
        _require_another_steward(session, member)
        revoke_codes_of(session, [member])
    member.role = role.value
    session.flush()


def remove(session: Session, member: Member) -> None:
    """End a membership; what the member reported stays until it is erased.

    Codes that the member handed out are revoked.

    Raises
    ------
    Conflict
        Where it is that of the last steward.

    """
    _require_another_steward(session, member)
    revoke_codes_of(session, [member])
    member.left_at = now()
    session.flush()


def require_steward_left(session: Session, member: Member) -> None:
    """Refuse to let the last steward go while others are in the group; the caller has taken turns.

    Raises
    ------
    Conflict
        Where those others would be without one.

    """
    others = select(Member.id).where(
        Member.group_id == member.group_id, Member.id != member.id, *PRESENT
    )
    present = member.person_id is not None and member.left_at is None
    if present and session.scalar(others.limit(1)) is not None:
        _require_another_steward(session, member)


def leave(session: Session, actor: Actor) -> None:
    """End the actor's own membership.

    Raises
    ------
    Conflict
        Where the actor is the last steward.

    """
    actor.require(Action.LEAVE)
    take_turns(session, actor.group_id)
    remove(session, _present_member(session, actor, Member.id == actor.member_id))


def member_named(session: Session, actor: Actor, name: str) -> Member:
    """Return the member of a name whose place is about to change, for the command line.

    Raises
    ------
    NotFound, Conflict
        As `member_to_change` does.
    Invalid
        Where more than one may be meant.

    """
    actor.require(Action.KEEP_MEMBERS)
    take_turns(session, actor.group_id)
    found = member_of_name(session, actor.group_id, "name", name)
    return _present_member(session, actor, Member.id == (found.id if found else None))


def _visible(actor: Actor) -> Select[Any]:
    query = select(*MEMBER_COLUMNS).where(Member.group_id == actor.group_id)
    if actor.may(Action.KEEP_MEMBERS):
        return query
    return query.where(Member.id == actor.member_id)


def _present_member(session: Session, actor: Actor, which: Any) -> Member:
    member = session.scalar(
        select(Member)
        .where(Member.group_id == actor.group_id, which)
        .execution_options(populate_existing=True)
    )
    if member is None:
        raise NotFound("no such member")
    if member.person_id is None:
        raise Conflict("nobody has joined as this reporter: invite somebody in this place first")
    if member.left_at is not None:
        raise Conflict("this member has left the group")
    return member


def _require_still_steward(session: Session, actor: Actor) -> None:
    """Refuse an actor whom others made something else while their turns were waited for."""
    mine = select(Member.id).where(Member.id == actor.member_id, *STEWARDS)
    if not actor.is_operator and session.scalar(mine) is None:
        raise Forbidden("you are no steward of this group any more")


def _require_another_steward(session: Session, member: Member) -> None:
    """Refuse to take the last steward away; the caller has taken turns, so nobody races this."""
    if member.role != Role.STEWARD:
        return
    others = select(Member.id).where(
        Member.group_id == member.group_id,
        Member.id != member.id,
        *STEWARDS,
    )
    if session.scalar(others.limit(1)) is None:
        raise Conflict(LAST_STEWARD)
