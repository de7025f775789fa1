"""Accepting an invitation: a place in a group, for a person who is known already or a new one."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import ColumnElement, select, update
from sqlalchemy.orm import Session

from models.actions import tokens
from models.actions.actor import Asker
from models.actions.group_names import GroupNames
from models.actions.outstanding_codes import made_by_a_steward, void_resets_for
from models.actions.turns import take_turns
from models.domain import codes
from models.domain.consent import require_agreed
from models.domain.errors import Conflict, Fault, Invalid, NotFound
from models.domain.roles import Action, Role
from models.domain.texts import name_key, required_name
from models.tables.base import now
from models.tables.invitations import Invitation
from models.tables.people import Group, Member, Person

_OPEN = (Invitation.uses_left > 0, Invitation.revoked_at.is_(None), made_by_a_steward())

_TAKE = (
    update(Invitation)
    .where(*_OPEN)
    .values(uses_left=Invitation.uses_left - 1)
    .returning(Invitation.group_id, Invitation.role, Invitation.reporter_id)
)


@dataclass(frozen=True)
class Joined:
    """A place that somebody has got; `token` is None where the person had one."""

    group: Group
    member: Member
    token: str | None


def accept(
    session: Session, asker: Asker | None, code: str, name: str | None, consent_version: int
) -> Joined:
    """Give whoever holds a code a place in its group under a name.

    Without an asker a person is made, with a token that is shown this once. Where the invitation
    is for a reporter's place, that place keeps its name and reports. Codes with which stewards of
    other groups could set the person's password are void from then on.

    Raises
    ------
    NotFound
        Where the code is unknown, used up, revoked or expired, or whoever made it is no steward
        any more: the five look alike.
    Invalid
        Where the name is missing or taken, or the consent is to another text.
    Conflict
        Where the person is a member of the group already.

    """
    if asker is not None:
        asker.require(Action.JOIN)
    require_agreed(consent_version)
    group_id, role, reporter_id = _take(session, code)
    member = _place(session, asker, group_id, reporter_id, name)
    member.role, member.consent_version = role, consent_version
    member.joined_at, member.left_at = now(), None
    group = session.get_one(Group, group_id)
    token = None
    if asker is None:
        member.person_id = _new_person(session)
        label = tokens.first_label(member.name, group.name)
        token = tokens.issue(session, member.person_id, label)
    else:
        void_resets_for(session, asker.person_id)
    session.flush()
    return Joined(group, member, token)


def require_open(session: Session, code: str) -> None:
    """Refuse a code that is good for nothing, before more is worked out for whoever sent it.

    Raises
    ------
    NotFound
        As `accept` does.

    """
    if not codes.well_formed(codes.INVITATION, code):
        raise _no_such()
    if session.scalar(select(Invitation.id).where(*_OPEN, *_of_code(code))) is None:
        raise _no_such()


def _take(session: Session, code: str) -> tuple[str, str, str | None]:
    """Use an invitation once: of two who come at once, the later finds it used."""
    if codes.well_formed(codes.INVITATION, code):
        taken = session.execute(_TAKE.where(*_of_code(code))).first()
        if taken is not None:
            group_id, role, reporter_id = taken
            return group_id, role, reporter_id
    raise _no_such()


def _of_code(code: str) -> tuple[ColumnElement[bool], ...]:
    return (Invitation.digest == codes.digest(code), Invitation.expires_at > now())


def _no_such() -> NotFound:
    return NotFound("no such invitation: it may have been used, revoked, or have expired")


def _place(
    session: Session,
    asker: Asker | None,
    group_id: str,
    reporter_id: str | None,
    name: str | None,
) -> Member:
    """Return the place for somebody: the one kept since leaving, a reporter's, or a new one."""
    kept = _kept(session, asker, group_id)
    if reporter_id is not None:
        if kept is not None:
            raise Conflict("you have a place in this group already; ask for a plain invitation")
        place = _reporters_place(session, reporter_id, name)
    elif kept is not None:
        return _renamed(session, kept, name)
    else:
        place = _new_place(session, group_id, name)
    place.person_id = asker.person_id if asker is not None else None
    return place


def _kept(session: Session, asker: Asker | None, group_id: str) -> Member | None:
    if asker is None:
        return None
    query = select(Member).where(Member.group_id == group_id, Member.person_id == asker.person_id)
    kept = session.scalar(query.with_for_update())
    if kept is not None and kept.left_at is None:
        raise Conflict("you are a member of this group already")
    return kept


def _reporters_place(session: Session, reporter_id: str, name: str | None) -> Member:
    place = session.scalars(select(Member).where(Member.id == reporter_id).with_for_update()).one()
    if place.person_id is not None:
        raise Conflict("somebody has joined in this place already")
    if name is not None and name_key(name) != name_key(place.name):
        raise Invalid([Fault("name", name, "leave it out: your reports are kept under a name")])
    return place


def _new_place(session: Session, group_id: str, name: str | None) -> Member:
    wanted = _named(name)
    take_turns(session, group_id)
    GroupNames.read(session, group_id).require_new("name", wanted)
    place = Member(group_id=group_id, name=wanted, role=Role.KNITTER.value)
    session.add(place)
    session.flush()
    return place


def _renamed(session: Session, kept: Member, name: str | None) -> Member:
    """Return the place of somebody who comes back, under the name that is given now."""
    wanted = _named(name)
    take_turns(session, kept.group_id)
    if wanted != kept.name:
        others = GroupNames.read(session, kept.group_id, without=kept.id)
        others.require_new("name", wanted)
    kept.name = wanted
    return kept


def _named(name: str | None) -> str:
    if name is None:
        raise Invalid([Fault("name", None, "give the name that you will have in the group")])
    return required_name("name", name)


def _new_person(session: Session) -> str:
    person = Person()
    session.add(person)
    session.flush()
    return person.id
