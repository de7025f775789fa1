"""One-time codes that set a new password, for people who forgot theirs.

A code opens the account, and with it everything the person has in any group, in those that were
left too. So a steward can issue one only for a person all of whose groups have that steward, and it
is good only while that is so; for anybody else the operator does, at the command line. Whoever logs
in afterwards sees when a code was used.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from sqlalchemy import ColumnElement, select, update
from sqlalchemy.orm import Session

from models.actions.accounts import replace_password
from models.actions.actor import Actor, Asker
from models.actions.members import member_to_change
from models.actions.outstanding_codes import leads_all_groups_of, void_resets
from models.domain import codes
from models.domain.errors import Conflict, Forbidden, NotFound
from models.domain.roles import Action
from models.tables.accounts import Account, PasswordReset
from models.tables.base import now

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
        Where the member is, or was, in a group that the asker is no steward of, or is the asker:
        with a code of their own, whoever found a steward's token would need no password.

    """
    actor.require(Action.RESET_PASSWORDS)
    person_id = str(member_to_change(session, actor, member_id).person_id)
    if person_id == asker.person_id:
        raise Forbidden(
            "you change your own password with the one that you have; if you forgot it, another "
            "steward or the operator issues the code"
        )
    if not leads_all_groups_of(session, asker.person_id, person_id):
        raise Forbidden(
            "this member is, or was, also in a group that you are no steward of: let the operator "
            "issue the code, by heeldepth account reset USERNAME"
        )
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


def require_good(session: Session, code: str) -> None:
    """Refuse a code that sets no password, before one is hashed for whoever sent it.

    Raises
    ------
    NotFound
        As `set_password` does.

    """
    if session.scalar(select(PasswordReset.id).where(*_unused(code, now()))) is None:
        raise _no_such()


def set_password(session: Session, code: str, password_hash: str) -> None:
    """Set a new password with a code, once; sessions and tokens of its person end.

    Raises
    ------
    NotFound
        Where the code is unknown, used or has run out, or whoever issued it does not lead all
        groups of its person any more: the four look alike.

    """
    moment = now()
    used = session.execute(
        update(PasswordReset)
        .where(*_unused(code, moment))
        .values(used_at=moment)
        .returning(PasswordReset.person_id, PasswordReset.issuer_id)
    ).first()
    if used is None or not _still_good(session, used.person_id, used.issuer_id):
        raise _no_such()
    replace_password(session, used.person_id, password_hash, reset=True)


def _unused(code: str, moment: datetime) -> tuple[ColumnElement[bool], ...]:
    mine = PasswordReset.digest == codes.digest(code)
    return (mine, PasswordReset.used_at.is_(None), PasswordReset.expires_at > moment)


def _no_such() -> NotFound:
    return NotFound("no such code: it may have been used, or have run out")


def _still_good(session: Session, person_id: str, issuer_id: str | None) -> bool:
    """Return whether whoever issued a code could issue it now; the operator always can."""
    return issuer_id is None or leads_all_groups_of(session, issuer_id, person_id)


def _issued(session: Session, person_id: str, issuer_id: str | None) -> tuple[str, datetime]:
    """Return a new code; those issued before for the same person are good no more."""
    void_resets(session, PasswordReset.person_id == person_id)
    code, expires_at = codes.new_code(codes.RESET), now() + LIFE
    row = PasswordReset(
        person_id=person_id, issuer_id=issuer_id, digest=codes.digest(code), expires_at=expires_at
    )
    session.add(row)
    session.flush()
    return code, expires_at
