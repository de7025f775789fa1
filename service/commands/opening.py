"""Opening the database for a command, which must find it upgraded."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import OperationalError

from migrations.runner import current, head
from models.domain.errors import Unavailable
from models.tables.engine import Database
from service.config import Settings


@contextmanager
def opened() -> Iterator[Database]:
    """Open the database of the settings, and close it afterwards.

    Raises
    ------
    Unavailable
        Where it does not answer, or lacks the newest migration.

    """
    settings = Settings.from_environment()
    require_upgraded(settings)
    database = Database(settings.database_url)
    try:
        yield database
    except OperationalError as error:
        raise Unavailable(f"the database cannot do that now: {error.orig}") from error
    finally:
        database.close()


def require_upgraded(settings: Settings) -> None:
    """Raise `Unavailable` where the database does not answer or lacks the newest migration."""
    try:
        revision = current(settings.database_url)
    except OperationalError as error:
        raise Unavailable(f"the database does not answer: {error.orig}") from error
    if revision != head():
        raise Unavailable("the database is not ready; run: heeldepth database upgrade")
