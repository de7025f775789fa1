"""Looking after the database."""

from __future__ import annotations

import click
from alembic.util import CommandError
from sqlalchemy.exc import NoSuchTableError

from migrations import revisions, runner
from models.domain.errors import Unavailable
from service.commands.opening import answering, warn_where_others_read
from service.config import Settings


@click.group()
def database() -> None:
    """Look after the database."""


@database.command()
def upgrade() -> None:
    """Bring the database, which may not exist yet, up to the newest migration."""
    settings = Settings.from_environment()
    with answering():
        bring_to_head(settings.database_url, "this database")
    warn_where_others_read(settings)
    click.echo(f"The database is at migration {revisions.head()}.")


def bring_to_head(url: str, what: str) -> None:
    """Bring a database, which messages call `what`, up to the newest migration; all or nothing.

    Raises
    ------
    Unavailable
        Where a newer version made it, or where what is in it does not let a migration through.

    """
    revision = revisions.current(url)
    if revisions.is_newer(revision):
        raise Unavailable(
            f"a newer version of heeldepth made {what}: it is at migration {revision}, and this "
            f"version knows {revisions.head()}"
        )
    try:
        runner.upgrade(url)
    except CommandError as error:
        raise Unavailable(f"cannot upgrade {what}: {error}") from error
    except NoSuchTableError as error:
        raise Unavailable(f"cannot upgrade {what}: it has no table {error}") from error
