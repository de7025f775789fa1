"""Groups at the command line."""

from __future__ import annotations

import click

from models.actions import groups, tokens
from service.commands.opening import opened


@click.group()
def group() -> None:
    """Look after groups."""


@group.command()
@click.argument("name")
@click.option("--steward", default="steward", help="Name of its steward in the group.")
def create(name: str, steward: str) -> None:
    """Make a group and print the token of its steward, this once."""
    with opened() as database, database.write.begin() as session:
        made, person_id = groups.create_group(session, name, steward)
        token = tokens.issue(session, person_id, f"steward of {name}"[:80])
    click.echo(f"group {made.id}\ntoken {token}")
    click.echo("Keep the token: it is shown this once.", err=True)
