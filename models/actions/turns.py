"""Taking turns: what must not happen twice at once in a group."""

from __future__ import annotations

from sqlalchemy import select, text
from sqlalchemy.orm import Session

from models.tables.people import Group


def wait_shortly(session: Session) -> None:
    """Have a transaction on PostgreSQL wait a second at most for what others hold."""
    if session.get_bind().dialect.name == "postgresql":
        session.execute(text("SET LOCAL lock_timeout = 1000"))


def take_turns(session: Session, group_id: str) -> None:
    """Wait until no other import or calibration of the group is being written.

    Reports and suggestions still come in meanwhile: they only need the group to stay.
    """
    query = select(Group.id).where(Group.id == group_id)
    session.execute(query.with_for_update(key_share=True))
