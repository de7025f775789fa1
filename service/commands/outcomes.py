"""Whether what was stated came true, at the command line."""

from __future__ import annotations

from typing import Any

import click

from models.actions import tracking
from models.actions.activations import active
from models.actions.actor import Actor, operator
from models.actions.groups import find_group
from models.domain.wording import counted
from models.tables.engine import Database
from service.commands.opening import opened

_PARTS = {None: "all", True: "followed", False: "others"}


@click.command()
@click.option("--group", "name", required=True, help="Name or id of the group.")
def outcomes(name: str) -> None:
    """Compare what the active calibration stated with the reports that came after it."""
    with opened() as database:
        with database.read() as session:
            actor = operator(find_group(session, name).id)
        found = of_active(database, actor)
    if found is None:
        click.echo("No calibration is active in this group.")
        return
    told = f"{counted(found['reports'], 'report')} of {counted(found['reporters'], 'reporter')}"
    click.echo(f"Since calibration {found['number']}: {told}. {found['text']}")
    for band in found["table"]:
        click.echo(_line(band))


def of_active(database: Database, actor: Actor) -> dict[str, Any] | None:
    """Return the outcomes of the calibration that answers, or None where there is none."""
    with database.read() as session:
        found, _ = active(session, actor.group_id)
        return None if found is None else tracking.outcomes(session, actor, found)


def _line(band: dict[str, Any]) -> str:
    return (
        f"{_PARTS[band['followed']]:>8}, chance {band['low']:.1f} to {band['high']:.1f}: stated "
        f"{band['stated']:.0%}, just right {band['achieved']:.0%} of "
        f"{counted(band['reports'], 'report')}"
    )
