"""Opening the database for a command, which must find it upgraded."""

from __future__ import annotations

import os
import shlex
import stat
from collections.abc import Iterator
from contextlib import contextmanager

import click
from sqlalchemy.exc import ArgumentError, DBAPIError

from migrations.revisions import current, head, is_newer, lacks_steps
from models.domain.errors import Unavailable
from models.tables.engine import FEW, Database, file_of
from service.config import Settings

OTHERS = stat.S_IRGRP | stat.S_IROTH
"""The rights by which others than the owner read a file."""


@contextmanager
def opened(connections: int = FEW, *, newer: bool = False) -> Iterator[Database]:
    """Open the database of the settings, and close it afterwards.

    `newer` takes one that a newer version has upgraded, which suits whoever serves while processes
    are replaced. Other commands may need all that is in it: a backup would be without the rest.

    Raises
    ------
    Unavailable
        Where it does not answer, lacks a migration, or is newer.

    """
    settings = Settings.from_environment()
    require_upgraded(settings, newer=newer)
    with answering():
        database = Database(settings.database_url, connections)
        try:
            yield database
        finally:
            database.close()


def require_upgraded(settings: Settings, *, newer: bool = False) -> None:
    """Raise `Unavailable` where the database does not answer, lacks a migration, or is newer."""
    file = file_of(settings.database_url)
    if file is not None and not file.exists():  # asked for its revision it would be made
        wanted = "if HEELDEPTH_DATABASE_URL is right, run: heeldepth database upgrade"
        raise Unavailable(f"there is no database {file}; {wanted}")
    with answering():
        revision = current(settings.database_url)
    if lacks_steps(revision):
        raise Unavailable("the database is not ready; run: heeldepth database upgrade")
    if is_newer(revision) and not newer:
        raise Unavailable(
            f"the database is at migration {revision} and this version of heeldepth knows "
            f"{head()}: use the newer version that upgraded it"
        )


def warn_where_others_read(settings: Settings) -> None:
    """Say on standard error where others of this machine may read the database.

    New ones are for their owner alone. Windows has no such rights.
    """
    file = file_of(settings.database_url)
    if os.name != "posix" or file is None or not file.exists():
        return
    if stat.S_IMODE(file.stat().st_mode) & OTHERS:
        click.echo(
            f"Others on this machine can read {file}. To keep it to yourself: "
            f"chmod 600 {shlex.quote(str(file))}",
            err=True,
        )


@contextmanager
def answering() -> Iterator[None]:
    """Raise `Unavailable` where the database cannot do what is asked, or its URL names none."""
    try:
        yield
    except (ArgumentError, ModuleNotFoundError) as error:  # the URL may hold a password: not shown
        raise Unavailable(
            "HEELDEPTH_DATABASE_URL must be a SQLAlchemy URL of SQLite or PostgreSQL, such as "
            "sqlite:////folder/heeldepth.db"
        ) from error
    except DBAPIError as error:
        reason = str(error.orig).partition("\n")[0]
        raise Unavailable(
            f"the database of HEELDEPTH_DATABASE_URL cannot do that now: {reason}"
        ) from error
