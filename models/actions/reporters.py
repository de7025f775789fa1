"""Whose records these are: the actor's own, or those of a reporter who has not joined."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import bindparam, select
from sqlalchemy.orm import Session

from models.actions.actor import Actor
from models.actions.group_names import GroupNames, Named, member_of_name
from models.actions.turns import take_turns
from models.domain.errors import Fault, Forbidden, Invalid
from models.domain.roles import Action, Role
from models.domain.texts import name_key
from models.tables.base import new_id
from models.tables.claim import insert_new
from models.tables.people import Member

_NAMED = select(Member.name, Member.id, Member.person_id).where(
    Member.group_id == bindparam("group_id"), Member.name.in_(bindparam("names", expanding=True))
)


def reporter(session: Session, actor: Actor, name: str | None) -> str:
    """Return the member id of the reporter a record is for: the actor, or one the actor names.

    A name nobody has yet becomes a member without a person, who reports through the steward.

    Raises
    ------
    Forbidden
        Where the actor may not record for others, or the other has joined and records herself.

    """
    actor.require(Action.RECORD)
    if actor.member_id is not None and (name is None or _is_own(session, actor, name)):
        return actor.member_id
    if name is None:
        raise Forbidden("the operator is no reporter: name one")
    return reporters(session, actor, [name])[name]


def reporters(session: Session, actor: Actor, names: Sequence[str]) -> dict[str, str]:
    """Return the member id of each name; those nobody has yet become members without a person.

    Raises
    ------
    Invalid
        Where one that nobody has looks like another's.
    Forbidden
        Where the actor may not record for others, or one of them has joined and records herself;
        the operator may record for everybody.

    """
    actor.require(Action.RECORD_FOR_OTHERS)
    found = _ids(session, actor, names)
    unknown = [name for name in dict.fromkeys(names) if name not in found]
    if not unknown:
        return found
    take_turns(session, actor.group_id)
    known, new = GroupNames.read(session, actor.group_id), []
    for name in unknown:
        same = known.same(name)
        if same is None:
            known.require_clear("reporter", name)
            same = Named(new_id(), name, None)
            known.add(same)
            new.append(same)
        _require_may_record_for(actor, same)
        found[name] = same.id
    insert_new(session, Member, [_knitter(actor, one) for one in new])
    return found


def place_of(session: Session, actor: Actor, name: str) -> str:
    """Return the member id of a reporter who has not joined yet.

    Raises
    ------
    Invalid
        Where the group has no reporter of that name, or that reporter has joined.

    """
    row = member_of_name(session, actor.group_id, "reporter", name)
    if row is None:
        raise Invalid([Fault("reporter", name, "no reporter of that name in this group")])
    if row.person_id is not None:
        raise Invalid([Fault("reporter", name, "that reporter has joined already")])
    return str(row.id)


def _is_own(session: Session, actor: Actor, name: str) -> bool:
    """Return whether a name is the actor's, and not spelt as somebody else's from before."""
    if name == actor.name or name_key(name) != name_key(actor.name):
        return name == actor.name
    named = {"group_id": actor.group_id, "names": [name]}
    return session.connection().execute(_NAMED, named).first() is None


def _ids(session: Session, actor: Actor, names: Sequence[str]) -> dict[str, str]:
    asked = {"group_id": actor.group_id, "names": names}
    known = session.connection().execute(_NAMED, asked).all()
    for row in known:
        _require_may_record_for(actor, row)
    return {row.name: row.id for row in known}


def _require_may_record_for(actor: Actor, member: Any) -> None:
    if member.person_id is not None and not actor.is_operator and member.id != actor.member_id:
        raise Forbidden(f"{member.name} has joined the group: nobody else records for a member")


def _knitter(actor: Actor, new: Named) -> dict[str, str]:
    role = Role.KNITTER.value
    return {"id": new.id, "group_id": actor.group_id, "name": new.name, "role": role}
