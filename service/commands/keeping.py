"""Keeping the service: the database and the server."""

from __future__ import annotations

import signal
import sys
from typing import NoReturn

import click
import waitress

from migrations import runner
from service.app import create_app
from service.commands.opening import require_upgraded
from service.config import Settings


@click.group()
def database() -> None:
    """Look after the database."""


@database.command()
def upgrade() -> None:
    """Bring the database, which may not exist yet, up to the newest migration."""
    settings = Settings.from_environment()
    runner.upgrade(settings.database_url)
    click.echo(f"The database is at migration {runner.head()}.")


@click.command()
def serve() -> None:
    """Serve the REST interface until stopped."""
    settings = Settings.from_environment()
    require_upgraded(settings)
    signal.signal(signal.SIGTERM, _stop)
    where = f"http://{settings.host}:{settings.port}"
    click.echo(f"Serving on {where}; what it can do: {where}/docs")
    waitress.serve(
        create_app(settings),
        host=settings.host,
        port=settings.port,
        threads=settings.threads,
        ident=None,
        _quiet=True,
    )


def _stop(_signal: int, _frame: object) -> NoReturn:
    """Let waitress finish what it is answering, as it does for an interrupt."""
    sys.exit(0)
