"""Bearer tokens: shown once, kept as a digest, each for some scopes and some time."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import or_, select, update
from sqlalchemy.orm import Session

from models.actions.actor import Asker
from models.domain import codes
from models.domain.errors import Fault, Invalid, NotFound
from models.domain.roles import EVERY_SCOPE, Action, Scope, in_order
from models.tables.base import now
from models.tables.people import Token

PREFIX = codes.TOKEN
digest = codes.digest

_FIRST_KIND = re.compile(rf"{PREFIX}[A-Za-z0-9_-]{{43}}")
"""Tokens of the first version: 256 bits without a checksum. They stay good."""

_SHOWN = (
    Token.id,
    Token.label,
    Token.scopes,
    Token.created_at,
    Token.expires_at,
    Token.last_used_at,
)


def first_label(name: str, group: str) -> str:
    """Return the label of the token that somebody gets on joining a group."""
    return f"{name} in {group}"[:80]


def issue(
    session: Session,
    person_id: str,
    label: str,
    scopes: Collection[Scope] = EVERY_SCOPE,
    expires_at: datetime | None = None,
) -> str:
    """Return a new token for a person; it can never be read again."""
    return _issued(session, person_id, label, scopes, expires_at)[0]


def make_token(
    session: Session,
    asker: Asker,
    label: str,
    scopes: Collection[Scope] = EVERY_SCOPE,
    days: int | None = None,
) -> tuple[str, Mapping[str, Any]]:
    """Return a new token of the asker's own, with its row as `list_tokens` shows it.

    Raises
    ------
    Invalid
        Where it would outlive the token that asks for it, or has no scope.

    """
    asker.require(Action.KEEP_ACCOUNT)
    expires_at = None if days is None else now() + timedelta(days=days)
    _require_no_longer(session, asker, days, expires_at)
    token, row_id = _issued(session, asker.person_id, label, scopes, expires_at)
    row = session.execute(select(*_SHOWN).where(Token.id == row_id)).mappings().one()
    return token, dict(row)


def list_tokens(session: Session, asker: Asker) -> Sequence[Mapping[str, Any]]:
    """Return the asker's tokens that are good, oldest first."""
    asker.require(Action.KEEP_ACCOUNT)
    good = (Token.revoked_at.is_(None), or_(Token.expires_at.is_(None), Token.expires_at > now()))
    query = select(*_SHOWN).where(Token.person_id == asker.person_id, *good)
    return list(map(dict, session.execute(query.order_by(Token.id)).mappings()))


def revoke_token(session: Session, asker: Asker, token_id: str) -> None:
    """Revoke one of the asker's tokens; it is refused from the next request on.

    Raises
    ------
    NotFound
        Where the asker has no such token that is not revoked already.

    """
    asker.require(Action.KEEP_ACCOUNT)
    mine = (Token.id == token_id, Token.person_id == asker.person_id, Token.revoked_at.is_(None))
    revoked = session.execute(
        update(Token).where(*mine).values(revoked_at=now()).returning(Token.id)
    )
    if revoked.first() is None:
        raise NotFound("no such token")


def end_of(session: Session, asker: Asker) -> datetime | None:
    """Return when the token that asks ends; None for one without end, and for a session."""
    if asker.token_id is None:
        return None
    return session.scalar(select(Token.expires_at).where(Token.id == asker.token_id))


def note_used(session: Session, token_id: str, moment: datetime, gap: timedelta) -> None:
    """Note when a token was used, unless that was noted less than a gap ago."""
    stale = or_(Token.last_used_at.is_(None), Token.last_used_at <= moment - gap)
    session.execute(update(Token).where(Token.id == token_id, stale).values(last_used_at=moment))


def possible(token: str) -> bool:
    """Return whether a text has the form of a token, as far as that can be told without a look."""
    return codes.well_formed(PREFIX, token) or _FIRST_KIND.fullmatch(token) is not None


def _issued(
    session: Session,
    person_id: str,
    label: str,
    scopes: Collection[Scope],
    expires_at: datetime | None,
) -> tuple[str, str]:
    token = codes.new_code(PREFIX)
    row = Token(
        person_id=person_id,
        digest=digest(token),
        label=label,
        scopes=" ".join(in_order(scopes)),
        expires_at=expires_at,
    )
    session.add(row)
    session.flush()
    return token, row.id


def _require_no_longer(
    session: Session, asker: Asker, days: int | None, expires_at: datetime | None
) -> None:
    """Refuse a token that outlives the one that asks: a borrowed one could be kept for good."""
    limit = end_of(session, asker)
    if limit is not None and (expires_at is None or expires_at > limit):
        wanted = f"it must end before the token that asks does, at {limit:%Y-%m-%dT%H:%MZ}"
        raise Invalid([Fault("days", days, wanted)])
