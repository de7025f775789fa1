"""Calibrating at the command line."""

from __future__ import annotations

import click

from models.actions import calibrations
from models.actions.actor import Actor, operator
from models.actions.groups import find_group
from models.domain.wording import counted
from models.learning import calibration as learning
from models.tables.engine import Database
from models.tables.learned import Calibration
from service.commands.opening import opened
from service.commands.outcomes import of_active
from service.screening import hold_doubtful


@click.command()
@click.option("--group", "name", required=True, help="Name or id of the group.")
@click.option("--no-activate", is_flag=True, help="Keep the calibration that answers now.")
def calibrate(name: str, *, no_activate: bool) -> None:
    """Learn from all reports of a group, and let the result answer from now on."""
    with opened() as database:
        with database.read() as reading:
            actor = operator(find_group(reading, name).id)
        held, before = hold_doubtful(database, actor), of_active(database, actor)
        with database.read() as reading:
            fitted = calibrations.calibrated(reading, actor)
        made = _kept(database, actor, fitted, no_activate=no_activate)
    if before and before["drift"]:
        click.echo(f"Calibration {before['number']} had drifted. {before['text']}")
    if held:
        click.echo(f"Held back {counted(held, 'doubtful report')}; see heeldepth review.")
    state = "waits to be activated" if no_activate else "answers from now on"
    click.echo(
        f"Calibration {made.number} rests on {made.reports} reports of {made.reporters} "
        f"reporters and {state}."
    )


def _kept(
    database: Database, actor: Actor, fitted: learning.Calibration, *, no_activate: bool
) -> Calibration:
    """Keep a calibration in a transaction of its own: fitting must not hold the write lock."""
    with database.write.begin() as session:
        made = calibrations.keep_calibration(session, actor, fitted)
        if not no_activate:
            calibrations.activate(session, actor, made.id)
        return made
