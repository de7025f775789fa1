"""Bearer tokens: shown once, kept as a digest."""

from __future__ import annotations

import hashlib
import secrets

from sqlalchemy.orm import Session

from models.tables.people import Token

PREFIX = "heeldepth_"
_SECRET_BYTES = 32


def issue(session: Session, person_id: str, label: str) -> str:
    """Return a new token of 256 random bits for a person; it can never be read again."""
    token = PREFIX + secrets.token_urlsafe(_SECRET_BYTES)
    session.add(Token(person_id=person_id, digest=digest(token), label=label))
    session.flush()
    return token


def digest(token: str) -> str:
    """Return the SHA-256 under which a token is kept; random tokens need no salt."""
    return hashlib.sha256(token.encode()).hexdigest()
