"""The password once more, for what a found token or an open browser must not do.

Whoever replaces a password, makes a token that opens everything or never ends, or erases somebody,
says who they are again: otherwise whoever got in once could stay, or undo what others did.
"""

from __future__ import annotations

from models.actions import accounts
from service.access import asker
from service.limits import Counted, count
from service.work import database


def require_current_password(given: str | None, *, counted: bool = False) -> None:
    """Refuse whoever asks where they have a password and this is not it.

    Tries are counted, unless this one is already.

    Raises
    ------
    Forbidden
        Where it is missing or wrong.
    TooOften
        Where it was tried too often.

    """
    if given is not None and not counted:
        count(Counted.LOGIN, asker().person_id)
    with database().read() as reading:
        accounts.require_current_password(reading, asker(), given)
