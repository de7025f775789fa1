"""One-time codes that set a new password, for people who forgot theirs.

A code opens the account, and with it everything the person has in any group. So a steward can
issue one only for a person all of whose groups have that steward; for anybody else the operator
does, at the command line. Whoever logs in afterwards sees when a code was used.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from sqlalchemy import select, update
from sqlalchemy.orm import Session

from models.actions.accounts import end_sessions
from models.actions.actor import Actor, Asker
from models.actions.members import member_to_change
from models.domain import codes
from models.domain.errors import Conflict, Forbidden, NotFound
from models.domain.roles import Action, Role
from models.tables.accounts import Account, PasswordReset
from models.tables.base import now
from models.tables.people import Member

LIFE = timedelta(hours=24)


def issue_for_member(
    session: Session, asker: Asker, actor: Actor, member_id: str
) -> tuple[str, datetime]:
    """Return a one-time code for a member of the actor's group, and when it runs out.

    Raises
    ------
    NotFound, Conflict
        Where there is no such member, or one without a password.
    Forbidden
        Where the member is also in a group that the asker is no steward of.

    """
    actor.require(Action.KEEP_MEMBERS)
    person_id = str(member_to_change(session, actor, member_id).person_id)
    _require_steward_of_all(session, asker.person_id, person_id)
    if session.scalar(select(Account.id).where(Account.person_id == person_id)) is None:
        raise Conflict("this member has no username: there is no password to forget")
    return _issued(session, person_id, asker.person_id)


def issue_for_username(session: Session, username: str) -> tuple[str, datetime]:
    """Return a one-time code for a username, and when it runs out; for the operator.

    Raises
    ------
    NotFound
        Where nobody has that username.

    """
    person_id = session.scalar(select(Account.person_id).where(Account.username == username))
    if person_id is None:
        raise NotFound(f"nobody has the username {username!r}")
    return _issued(session, person_id, None)


def set_password(session: Session, code: str, password_hash: str) -> None:
    """Set a new password with a code, once, and end every session of its person.

    Raises
    ------
    NotFound
        Where the code is unknown, used or has run out: the three look alike.

    """
    moment = now()
    unused = (PasswordReset.used_at.is_(None), PasswordReset.expires_at > moment)
    person_id = session.scalar(
        update(PasswordReset)
        .where(PasswordReset.digest == codes.digest(code), *unused)
        .values(used_at=moment)
        .returning(PasswordReset.person_id)
    )
    if person_id is None:
        raise NotFound("no such code: it may have been used, or have run out")
    session.execute(
        update(Account)
        .where(Account.person_id == person_id)
        .values(password_hash=password_hash, changed_at=moment, reset_at=moment)
    )
    end_sessions(session, person_id)


def _require_steward_of_all(session: Session, steward_id: str, person_id: str) -> None:
    mine = select(Member.group_id).where(
        Member.person_id == steward_id,
        Member.left_at.is_(None),
        Member.role == Role.STEWARD.value,
    )
    others = select(Member.id).where(
        Member.person_id == person_id,
        Member.left_at.is_(None),
        Member.group_id.not_in(mine),
    )
    if session.scalar(others.limit(1)) is not None:
        raise Forbidden(
            "this member is also in a group that you are no steward of: let the operator issue the "
            "code, by heeldepth account reset USERNAME"
        )


def _issued(session: Session, person_id: str, issuer_id: str | None) -> tuple[str, datetime]:
    """Return a new code; those issued before for the same person are good no more."""
    earlier = (PasswordReset.person_id == person_id, PasswordReset.used_at.is_(None))
    session.execute(update(PasswordReset).where(*earlier).values(used_at=now()))
    code, expires_at = codes.new_code(codes.RESET), now() + LIFE
    row = PasswordReset(
        person_id=person_id, issuer_id=issuer_id, digest=codes.digest(code), expires_at=expires_at
    )
    session.add(row)
    session.flush()
    return code, expires_at
