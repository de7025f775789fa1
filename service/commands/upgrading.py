"""Looking after the database."""

from __future__ import annotations

import click
from alembic.util import CommandError

from migrations import revisions, runner
from models.domain.errors import Unavailable
from service.commands.opening import answering
from service.config import Settings


@click.group()
def database() -> None:
    """Look after the database."""


@database.command()
def upgrade() -> None:
    """Bring the database, which may not exist yet, up to the newest migration."""
    settings = Settings.from_environment()
    try:
        with answering():
            runner.upgrade(settings.database_url)
    except CommandError as error:
        raise Unavailable(f"another version of heeldepth made this database: {error}") from error
    click.echo(f"The database is at migration {revisions.head()}.")
