"""Calibrating at the command line, choosing what answers, and going back."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from itertools import chain, repeat
from typing import Any

import click
from sqlalchemy.orm import Session

from models.actions import activations, judging
from models.actions.actor import Actor, operator
from models.actions.calibrations import keep_calibration, summary
from models.actions.groups import find_group
from models.domain.wording import counted
from models.tables.learned import Calibration
from service.calibrating import one_at_a_time
from service.commands.blocks import gathering
from service.commands.opening import opened
from service.commands.outcomes import of_active
from service.screening import hold_doubtful

_OF_GROUP = click.option("--group", "name", required=True, help="Name or id of the group.")


@click.command()
@_OF_GROUP
@click.option("--no-activate", is_flag=True, help="Keep the calibration that answers now.")
@click.option(
    "--blocks",
    type=click.IntRange(1, 100_000),
    help="Learn from about that many blocks of reports, of which one is in memory at a time.",
)
@click.option("--cluster", help="Address of the Dask scheduler whose workers hold the blocks.")
def calibrate(name: str, blocks: int | None, cluster: str | None, *, no_activate: bool) -> None:
    """Learn from all reports of a group; the result answers from then on if it is not worse."""
    with gathering(blocks, cluster) as gather, opened() as database:
        with database.read() as reading:
            actor = operator(find_group(reading, name).id)
        with one_at_a_time(database, actor, _waits()):
            held, before = hold_doubtful(database, actor), of_active(database, actor)
            with database.read() as reading:
                judged = judging.calibrated(reading, actor, gather)
            # A transaction of its own: calibrating must not hold the write lock.
            with database.write.begin() as session:
                made = keep_calibration(session, actor, judged, activate=not no_activate)
                told = summary(session, made, actor)
    if before and before["drift"]:
        click.echo(f"Calibration {before['number']} had drifted. {before['text']}")
    if held:
        click.echo(f"Held back {counted(held, 'doubtful report')}; see heeldepth review.")
    _echo(made, told, actor.group_id)


def _waits() -> Callable[[], None]:
    """Return what says once that somebody else is calibrating the group."""
    told = chain(["The group is being calibrated already: waiting for that."], repeat(None))
    return lambda: None if (text := next(told)) is None else click.echo(text, err=True)


def _echo(made: Calibration, told: Mapping[str, Any], group_id: str) -> None:
    """Print whether a new calibration answers, and why or why not."""
    state = "answers from now on" if told["active"] else "waits to be activated"
    click.echo(f"{_basis(made)} and {state}.")
    for reason in told["reasons"]:
        click.echo(f"  {reason}")
    if not told["active"]:
        click.echo(f"To let it answer: heeldepth activate {made.number} --group {group_id}")


@click.command()
@click.argument("number", type=click.IntRange(1, 2**31 - 1))
@_OF_GROUP
@click.option("--reason", help="Why it is chosen.")
def activate(number: int, name: str, reason: str | None) -> None:
    """Let a calibration answer from now on, by its number, though it waits."""
    with _acting(name) as (session, actor):
        chosen = activations.numbered(session, actor, number)
        activations.activate(session, actor, chosen.id, reason)
        click.echo(f"{_basis(chosen)} and answers from now on.")


@click.command()
@_OF_GROUP
def rollback(name: str) -> None:
    """Let the calibration answer again that answered before; twice goes back two."""
    with _acting(name) as (session, actor):
        click.echo(f"{_basis(activations.roll_back(session, actor))} and answers again.")


@contextmanager
def _acting(name: str) -> Iterator[tuple[Session, Actor]]:
    """Open a group for one change, which is kept if nothing is raised."""
    with opened() as database, database.write.begin() as session:
        yield session, operator(find_group(session, name).id)


def _basis(row: Calibration) -> str:
    return f"Calibration {row.number} rests on {row.reports} reports of {row.reporters} reporters"
