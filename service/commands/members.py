"""Members, invitations and forgotten passwords at the command line."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import click
from sqlalchemy.orm import Session

from models.actions import invitations, members, resets
from models.actions.actor import Actor, operator
from models.actions.groups import find_group
from models.domain.joining import DAYS, USES, USUAL_DAYS
from models.domain.roles import Role
from service.commands.opening import opened

_GROUP = click.option("--group", "group_name", required=True, help="Name or id of the group.")
_ROLE = click.Choice([role.value for role in Role])
_AT_ONCE = 200


@contextmanager
def _changing(group_name: str) -> Iterator[tuple[Session, Actor]]:
    with opened() as database, database.write.begin() as session:
        yield session, operator(find_group(session, group_name).id)


@click.group()
def member() -> None:
    """Look after the members of a group."""


@member.command("list")
@_GROUP
def list_(group_name: str) -> None:
    """List members and reporters: name, role, whether they joined, since when."""
    with opened() as database, database.read() as session:
        actor = operator(find_group(session, group_name).id)
        after = None
        while True:
            page = members.list_members(session, actor, after=after, limit=_AT_ONCE)
            for row in page.rows:
                state = "left" if row.left_at else "joined" if row.joined else "reporter"
                click.echo(f"{row.name}\t{row.role}\t{state}\t{row.joined_at:%Y-%m-%d}")
            after = page.next_after
            if after is None:
                return


@member.command()
@click.argument("name")
@click.argument("role", type=_ROLE)
@_GROUP
def role(name: str, role: str, group_name: str) -> None:
    """Give a member another role."""
    with _changing(group_name) as (session, actor):
        member = members.member_named(session, actor, name)
        members.change_role(session, actor, member, Role(role))
    click.echo(f"{name} is a {role} now.")


@member.command()
@click.argument("name")
@_GROUP
def remove(name: str, group_name: str) -> None:
    """End a membership; what was reported stays."""
    with _changing(group_name) as (session, actor):
        members.remove(session, members.member_named(session, actor, name))
    click.echo(f"{name} is no member any more.")


@click.command()
@_GROUP
@click.option("--role", type=_ROLE, default=Role.KNITTER.value, show_default=True)
@click.option("--uses", type=click.IntRange(int(USES.low), int(USES.high)), default=1)
@click.option("--days", type=click.IntRange(int(DAYS.low), int(DAYS.high)), default=USUAL_DAYS)
@click.option("--reporter", help="A reporter who has not joined, and who gets that place.")
def invite(group_name: str, role: str, uses: int, days: int, reporter: str | None) -> None:
    """Print a code that lets people join a group, this once."""
    terms = invitations.Terms(Role(role), uses, days, reporter)
    with _changing(group_name) as (session, actor):
        code, made = invitations.invite(session, actor, terms)
    click.echo(f"code {code}")
    until = f"{made['expires_at']:%Y-%m-%d %H:%M} UTC"
    click.echo(f"Hand it over: it is shown this once, and good until {until}.", err=True)


@click.group()
def account() -> None:
    """Look after usernames."""


@account.command()
@click.argument("username")
def reset(username: str) -> None:
    """Print a one-time code for a new password of somebody who forgot the old one."""
    with opened() as database, database.write.begin() as session:
        code, expires_at = resets.issue_for_username(session, username)
    click.echo(f"code {code}")
    click.echo(f"It is shown this once, and good until {expires_at:%Y-%m-%d %H:%M} UTC.", err=True)
