"""The review queue at the command line."""

from __future__ import annotations

from collections.abc import Iterator

import click
from sqlalchemy import Row
from sqlalchemy.orm import Session

from models.actions import reviews
from models.actions.actor import Actor, operator
from models.actions.groups import find_group
from models.domain.foot import MEASUREMENT_NAMES
from models.domain.reviews import Status
from models.domain.sections import COUNT_NAMES
from models.domain.wording import counted
from service.commands.opening import opened

_PAGE = 200


@click.command()
@click.option("--group", "name", required=True, help="Name or id of the group.")
@click.option("--accept", multiple=True, metavar="ID", help="Let a held report count.")
@click.option("--reject", multiple=True, metavar="ID", help="Leave a held report out for good.")
@click.option("--note", help="Why; the reporter can read it.")
def review(name: str, accept: tuple[str, ...], reject: tuple[str, ...], note: str | None) -> None:
    """List the held reports of a group, or decide some: all that are named, or none."""
    decided = [(one, Status.ACCEPTED) for one in accept] + [
        (one, Status.REJECTED) for one in reject
    ]
    if note is not None and not decided:
        raise click.UsageError("--note goes with --accept or --reject")
    with opened() as database:
        if decided:
            with database.write.begin() as session:
                actor = operator(find_group(session, name).id)
                for report_id, status in decided:
                    reviews.review(session, actor, report_id, status, text=note)
            click.echo(f"Accepted {len(accept)}, rejected {counted(len(reject), 'report')}.")
        else:
            with database.read() as session:
                _list(session, operator(find_group(session, name).id))


def _list(session: Session, actor: Actor) -> None:
    shown = 0
    for row in _held(session, actor):
        shown += 1
        click.echo(_told(row))
    click.echo(f"{counted(shown, 'held report')}.")


def _held(session: Session, actor: Actor) -> Iterator[Row[tuple[object, ...]]]:
    after: str | None = None
    while True:
        found = reviews.list_held(session, actor, after=after, limit=_PAGE)
        yield from found.rows
        after = found.next_after
        if after is None:
            return


def _told(row: Row[tuple[object, ...]]) -> str:
    told = row._mapping
    foot = ", ".join(f"{n} {told[n]:g}" for n in MEASUREMENT_NAMES if told[n] is not None)
    counts = "-".join(str(told[name]) for name in COUNT_NAMES)
    return (
        f"{told['id']}  {told['reporter']}: {told['held_because'] or 'Held by a steward.'}\n"
        f"  {foot}; {told['heel_stitches']} stitches, {counts} rounds, score {told['fit_score']}"
    )
