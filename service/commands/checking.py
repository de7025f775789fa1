"""Checking the database, and saying what was looked at."""

from __future__ import annotations

import click

from models.actions import checking
from models.domain.wording import counted
from models.tables.soundness import covered, unsound
from service.commands.opening import opened


@click.command()
def check() -> None:
    """Look for damage, rows without what they refer to, and calibrations without their reports."""
    with opened() as database, database.read() as session:
        looked_at, left_out = covered(session.connection())
        faults = [*unsound(session.connection()), *checking.unreadable(session)]
        for fault in faults:
            click.echo(f"fault: {fault}")
        for remark in checking.outdated(session):
            click.echo(f"note: {remark}")
    click.echo(f"Looked at: {looked_at}; {checking.LOOKED_AT}.")
    click.echo(f"Not looked at: {left_out}{checking.LEFT_OUT}.")
    if faults:
        raise click.ClickException(f"{counted(len(faults), 'fault')} in the database.")
    click.echo("No fault was found.")
