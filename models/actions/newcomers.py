"""People who are new here and come by a page: with a username and a password, without a token."""

from __future__ import annotations

from sqlalchemy.orm import Session

from models.actions.accounts import set_account
from models.actions.actor import Asker
from models.tables.people import Person


def newcomer(session: Session, username: str, password_hash: str) -> Asker:
    """Return a new person who has an account and no group yet.

    Raises
    ------
    Invalid
        Where somebody has the username.

    """
    person = Person()
    session.add(person)
    session.flush()
    asker = Asker(person.id)
    set_account(session, asker, username, password_hash)
    return asker
