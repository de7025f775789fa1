"""Taking out and erasing what is kept about somebody, at the command line."""

from __future__ import annotations

import re
from pathlib import Path
from typing import IO

import click
import orjson

from models.actions import about_me, leaving
from models.actions.actor import operator
from models.actions.erasing import Erased, Leaving
from models.actions.groups import find_group
from models.domain.wording import counted
from models.tables.engine import Database
from service.commands import writing
from service.commands.members import account, member
from service.commands.opening import opened
from service.commands.writing import ending, replacing
from service.erasing import erase_now

_GROUP = click.option("--group", "group_name", required=True, help="Name or id of the group.")
_DIGEST = re.compile("[0-9a-f]{64}")
_LIST = click.Path(exists=True, dir_okay=False, path_type=Path)


@member.command("export")
@click.argument("name")
@_GROUP
@writing.out("json", "zip")
def export_(name: str, group_name: str, out: Path) -> None:
    """Write everything about a member or reporter in a group: JSON, or CSV files in a .zip."""
    with opened() as database, database.read() as session:
        found = about_me.everything_about(session, _place(database, group_name, name))
        with replacing(out, binary=True) as file:
            _write(found, file, zipped=ending(out) == "zip")
    click.echo(f"Wrote everything about {name} in this group to {out}.")


@member.command("erase")
@click.argument("name")
@_GROUP
@click.confirmation_option(prompt="Erase everything of theirs in this group, for good?")
def erase_member(name: str, group_name: str) -> None:
    """Erase a member or reporter with everything of theirs in a group; learn anew without them."""
    with opened() as database:
        _tell(erase_now(database, _place(database, group_name, name)))


@account.command("erase")
@click.argument("username")
@click.confirmation_option(prompt="Erase everything of theirs in all groups, for good?")
def erase_account(username: str) -> None:
    """Erase somebody who has a username, with everything of theirs in all groups."""
    with opened() as database:
        with database.read() as session:
            whole = leaving.account_named(session, username)
        _tell(erase_now(database, whole))


@click.group()
def erasures() -> None:
    """Keep erased what was erased, also after a backup from before was restored."""


@erasures.command("list")
@writing.out()
def list_(out: Path) -> None:
    """Write the list of all erasures: digests of random ids, which say nothing of anybody.

    What is on a list that is there already stays on it.
    """
    with opened() as database, database.read() as session:
        digests = leaving.erased_digests(session)
    listed = _listed(out) if out.is_file() else []
    # A database that was restored does not know all that the list beside its backup does.
    whole = list(dict.fromkeys([*listed, *digests]))
    with replacing(out) as file:
        file.writelines(f"{one}\n" for one in whole)
    only = counted(len(set(listed) - set(digests)), "erasure")
    click.echo(f"Listed {counted(len(whole), 'erasure')} in {out}; {only} only the list knew.")


@erasures.command()
@click.argument("file", type=_LIST)
def replay(file: Path) -> None:
    """Erase again whoever on a list is in the database, as after a backup was restored."""
    digests = frozenset(_listed(file))
    with opened() as database:
        count = 0
        while (again := _come_back(database, digests)) is not None:
            erase_now(database, again)
            count += 1
    click.echo(f"Erased {count} again, of {counted(len(digests), 'erasure')} on the list.")


def _listed(file: Path) -> list[str]:
    """Return the erasures on a list."""
    lines = file.read_text(encoding="utf-8", errors="replace").splitlines()
    for number, line in enumerate(lines, start=1):
        if not _DIGEST.fullmatch(line):
            wanted = f"line {number} must be 64 characters from 0-9 and a-f"
            raise click.ClickException(f"{file} is no list of erasures: {wanted}")
    return lines


def _come_back(database: Database, digests: frozenset[str]) -> Leaving | None:
    """Return somebody who was erased once and is there again, a whole person before a place."""
    with database.read() as session:
        return next(leaving.come_back(session, digests), None)


def _place(database: Database, group_name: str, name: str) -> Leaving:
    with database.read() as session:
        actor = operator(find_group(session, group_name).id)
        return leaving.named(session, actor, name)


def _write(found: dict[str, object], file: IO[bytes], *, zipped: bool) -> None:
    if zipped:
        about_me.write_csv(found, file)
    else:
        file.write(orjson.dumps(found, option=orjson.OPT_INDENT_2 | orjson.OPT_UTC_Z))


def _tell(done: Erased) -> None:
    went = ", ".join(f"{name}: {number}" for name, number in done.rows.items())
    click.echo(f"Erased. {went}.")
    if done.calibrations:
        click.echo("What is left was learned anew.")
