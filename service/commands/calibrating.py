"""Calibrating at the command line."""

from __future__ import annotations

import click

from models.actions import calibrations
from models.actions.actor import operator
from models.actions.groups import find_group
from service.commands.opening import opened


@click.command()
@click.option("--group", "name", required=True, help="Name or id of the group.")
@click.option("--no-activate", is_flag=True, help="Keep the calibration that answers now.")
def calibrate(name: str, *, no_activate: bool) -> None:
    """Fit all reports of a group, and let the result answer from now on."""
    with opened() as database, database.write.begin() as session:
        actor = operator(find_group(session, name).id)
        made = calibrations.create_calibration(session, actor)
        if not no_activate:
            calibrations.activate(session, actor, made.id)
    state = "waits to be activated" if no_activate else "answers from now on"
    click.echo(
        f"Calibration {made.number} rests on {made.reports} reports of {made.reporters} "
        f"reporters and {state}."
    )
