"""The wider pool at the command line."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click
import orjson

from models.actions import sharing, wider_pool
from models.actions.actor import operator
from models.actions.groups import find_group
from models.domain.errors import Fault, Invalid
from models.domain.wording import counted
from service.commands import writing
from service.commands.opening import opened
from service.commands.writing import replacing

MOST_BYTES = 1_000_000
"""Longest file of summaries that is read."""

_LIST = f"a JSON list of 1 to {sharing.MOST_TAKEN} summaries, as `pool export` writes it"
_FILE = click.Path(exists=True, dir_okay=False, path_type=Path)
_GROUP = click.option("--group", "name", required=True, help="Name or id of the group.")

DONE = {
    "share": (sharing.contribute, "Shared; it stays as it is until shared anew or revoked."),
    "revoke": (sharing.revoke, "Nothing of the group is shared."),
    "use": (sharing.use_pool, "The next calibration begins with the wider pool."),
    "leave": (sharing.leave_pool, "The next calibration begins with geometry alone."),
}
"""What each word does, and what is said when it is done."""


@click.group()
def pool() -> None:
    """Share what a group learned as coefficients, never rows, and use what others shared."""


@pool.command()
@_GROUP
def show(name: str) -> None:
    """Show what the group shares, and the summaries that it may begin with."""
    with opened() as database, database.read() as session:
        actor = operator(find_group(session, name).id)
        found = wider_pool.read_pool(session, actor)
        listed = wider_pool.read_summaries(session, actor)
    shared = found["contribution"]
    told = "nothing" if shared is None else f"the summary of calibration {shared['number']}"
    click.echo(f"The group shares {told}.")
    click.echo(
        f"Calibrations begin with {'the wider pool' if found['used'] else 'geometry alone'}."
    )
    for one in listed:
        summary = one["summary"]
        where = one["source"] if one["id"] is None else f"{one['source']} as {one['id']}"
        click.echo(f"  {summary['people']} people or more, {summary['reports']} reports, {where}")
    click.echo(f"{counted(found['groups'], 'other group')} in the wider pool.")


def _changing(word: str) -> click.Command:
    verb, said = DONE[word]

    @_GROUP
    def change(name: str) -> None:
        with opened() as database, database.write.begin() as session:
            verb(session, operator(find_group(session, name).id))
        click.echo(said)

    return click.command(word, help=str(verb.__doc__).partition("\n")[0])(change)


for each in DONE:
    pool.add_command(_changing(each))


@pool.command()
@_GROUP
@click.option("--own", is_flag=True, help="What the group itself shares, and nothing else.")
@writing.out()
def export(name: str, out: Path, *, own: bool) -> None:
    """Write what the group shares and the wider pool, for another installation."""
    with opened() as database, database.read() as session:
        actor = operator(find_group(session, name).id)
        shared = wider_pool.read_pool(session, actor)["contribution"]
        found = [] if shared is None else [shared["summary"]]
        if not own:
            found += [one["summary"] for one in wider_pool.read_summaries(session, actor)]
    with replacing(out) as file:
        file.write(orjson.dumps(found, option=orjson.OPT_INDENT_2).decode())
    click.echo(f"Wrote {len(found)} of the summaries to {out}.")


@pool.command("import")
@click.argument("file", type=_FILE)
@_GROUP
def import_(file: Path, name: str) -> None:
    """Take in the summaries of a file, for this group: all of them or none."""
    documents = _read(file)
    with opened() as database, database.write.begin() as session:
        actor = operator(find_group(session, name).id)
        for place, document in enumerate(documents):
            try:
                sharing.take_in(session, actor, document)
            except Invalid as error:
                raise Invalid(fault.under(str(place)) for fault in error.faults) from error
    click.echo(f"Took in {len(documents)} of the summaries.")


@pool.command()
@click.argument("summary_id", metavar="ID")
@_GROUP
def drop(summary_id: str, name: str) -> None:
    """Do without a summary that was taken in."""
    with opened() as database, database.write.begin() as session:
        sharing.drop(session, operator(find_group(session, name).id), summary_id)
    click.echo("Dropped; the next calibration does without it.")


def _read(file: Path) -> list[dict[str, Any]]:
    """Return the summaries of a file, not checked beyond being objects."""
    with file.open("rb") as given:
        text = given.read(MOST_BYTES + 1)
    if len(text) > MOST_BYTES:
        raise Invalid([Fault("file", file.name, f"at most {MOST_BYTES} bytes")])
    try:
        found = orjson.loads(text)
    except orjson.JSONDecodeError as error:
        raise Invalid([Fault("file", file.name, _LIST)]) from error
    right = isinstance(found, list) and 1 <= len(found) <= sharing.MOST_TAKEN
    if not right or not all(isinstance(one, dict) for one in found):
        raise Invalid([Fault("file", file.name, _LIST)])
    return list(found)
