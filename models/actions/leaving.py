"""Who may be erased by whom."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from models.actions.actor import Actor, Asker
from models.actions.erasing import Leaving
from models.actions.group_names import member_of_name
from models.domain.codes import digest
from models.domain.errors import Conflict, Forbidden, NotFound
from models.domain.roles import Action, Role
from models.tables.accounts import Account
from models.tables.erased import Erasure
from models.tables.people import Group, Member, Person


@dataclass(frozen=True)
class Place:
    """Somebody's place in a group, which may have been left."""

    id: str
    group: str
    left: bool


def own_places(session: Session, asker: Asker) -> list[Place]:
    """Return the asker's places, by the names of their groups."""
    asker.require(Action.ERASE)
    query = select(Member.id, Group.name, Member.left_at).join(Group, Group.id == Member.group_id)
    mine = query.where(Member.person_id == asker.person_id).order_by(Group.name, Member.id)
    return [Place(row.id, row.name, row.left_at is not None) for row in session.execute(mine)]


def whole_account(session: Session, asker: Asker, action: Action) -> Leaving:
    """Return the asker with all places, those in groups that were left among them."""
    asker.require(action)
    return _person(session, asker.person_id)


def own_place(session: Session, asker: Asker, place_id: str) -> Leaving:
    """Return one of the asker's places, also in a group that was left.

    Raises
    ------
    NotFound
        Where the asker has no such place.

    """
    asker.require(Action.ERASE)
    mine = select(Member.group_id).where(Member.id == place_id)
    group_id = session.scalar(mine.where(Member.person_id == asker.person_id))
    if group_id is None:
        raise NotFound("you have no such place")
    return Leaving({group_id: {place_id: asker.person_id}})


def oneself(session: Session, actor: Actor, *, account: bool) -> Leaving:
    """Return the actor's place in the group, or the whole account with all places."""
    actor.require(Action.ERASE)
    mine = select(Member.person_id).where(Member.id == actor.member_id)
    person_id = session.scalar(mine)
    if actor.member_id is None or person_id is None:
        raise Forbidden("the operator erases others, by name")
    if account:
        return _person(session, person_id)
    return Leaving({actor.group_id: {actor.member_id: person_id}})


def somewhere(session: Session, asker: Asker, whose: Leaving) -> Actor | None:
    """Return the asker as a member of a group, of those to be left, that was not left before.

    None where there is no such group.
    """
    query = select(Member.group_id, Member.role, Member.id, Member.name).where(
        Member.id.in_(whose.start["members"]), Member.left_at.is_(None)
    )
    row = session.execute(query.order_by(Member.id).limit(1)).first()
    return row and Actor(row.group_id, Role(row.role), row.id, row.name, asker.scopes)


def reporter(session: Session, actor: Actor, reporter_id: str) -> Leaving:
    """Return a reporter who has not joined.

    Raises
    ------
    NotFound
        Where the group has none such.
    Conflict
        Where somebody has joined in that place: members erase themselves.

    """
    actor.require(Action.ERASE_REPORTERS)
    query = select(Member.person_id).where(Member.group_id == actor.group_id)
    found = session.execute(query.where(Member.id == reporter_id)).first()
    if found is None:
        raise NotFound("no such reporter")
    if found.person_id is not None:
        raise Conflict("this reporter has joined: members erase themselves, by DELETE /v1/me")
    return Leaving({actor.group_id: {reporter_id: None}})


def named(session: Session, actor: Actor, name: str) -> Leaving:
    """Return the place of a member or a reporter by name, for the operator.

    Raises
    ------
    Forbidden
        Where it is not the operator who asks.
    NotFound
        Where the group has none of that name.
    Invalid
        Where more than one may be meant.

    """
    if not actor.is_operator:
        raise Forbidden("only the operator does so by name")
    found = member_of_name(session, actor.group_id, "name", name)
    if found is None:
        raise NotFound(f"no member or reporter {name!r} in this group")
    return Leaving({actor.group_id: {found.id: found.person_id}})


def account_named(session: Session, username: str) -> Leaving:
    """Return the person who has a username, for the operator.

    Raises
    ------
    NotFound
        Where nobody has it.

    """
    query = select(Account.person_id).where(Account.username == username.lower())
    person_id = session.scalar(query)
    if person_id is None:
        raise NotFound(f"no account {username!r}")
    return _person(session, person_id)


def erased_digests(session: Session) -> Sequence[str]:
    """Return the digests of the ids of all who were erased, in the order in which they were."""
    return session.scalars(select(Erasure.digest).order_by(Erasure.id)).all()


def come_back(session: Session, digests: frozenset[str]) -> Iterator[Leaving]:
    """Yield who was erased once and is here again, as after a backup was restored."""
    for person_id in session.scalars(select(Person.id)).all():
        if digest(person_id) in digests:
            yield _person(session, person_id)
    places = select(Member.id, Member.group_id, Member.person_id)
    for place in session.execute(places).all():
        if digest(place.id) in digests:
            yield Leaving({place.group_id: {place.id: place.person_id}})


def _person(session: Session, person_id: str) -> Leaving:
    places: defaultdict[str, dict[str, str | None]] = defaultdict(dict)
    query = select(Member.group_id, Member.id).where(Member.person_id == person_id)
    for group_id, member_id in session.execute(query):
        places[group_id][member_id] = person_id
    return Leaving(dict(places), person_id)
