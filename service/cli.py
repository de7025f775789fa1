"""The command `heeldepth`.

Exit codes that scripts can trust: 0 done; 1 refused, nothing was changed; 2 wrong usage;
3 done in part (only with --keep-good: some rows were left out).
"""

from __future__ import annotations

import os
from importlib import import_module
from typing import Any

import click

from models.domain.errors import HeeldepthError
from service.commands.loading import uncollected

COMMANDS = {
    "demo": "story.demo",
    "serve": "keeping.serve",
    "work": "keeping.work",
    "database": "upgrading.database",
    "backup": "backing.backup",
    "restore": "backing.restore",
    "check": "checking.check",
    "group": "groups.group",
    "member": "leaving.member",
    "invite": "members.invite",
    "account": "leaving.account",
    "erasures": "leaving.erasures",
    "import": "files.import_",
    "calibrate": "calibrating.calibrate",
    "review": "reviewing.review",
    "outcomes": "outcomes.outcomes",
    "activate": "calibrating.activate",
    "rollback": "calibrating.rollback",
    "suggest": "files.suggest",
    "export": "files.export",
    "template": "files.template",
    "sizes": "designing.sizes",
    "defaults": "calibrated.defaults",
    "plan": "calibrated.plan",
    "pool": "wider_pool.pool",
}
"""Where in `service.commands` each command is: one is loaded when it is called, and `--help` loads
all. `leaving` adds to the groups of commands `member` and `account`, so it is what is loaded."""


class Commands(click.Group):
    """A group of commands that answers our errors with one line and exit code 1."""

    def __call__(self, *args: Any, **kwargs: Any) -> Any:
        """Run as the program of a process, whose files are for their owner alone.

        They hold measurements and names: the database with its logs and queue, exports, backups.
        SQLite gives the files beside a database that one's rights.
        """
        os.umask(os.umask(0o077) | 0o077)
        return super().__call__(*args, **kwargs)

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002
        """Return the names of all commands."""
        return sorted(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        """Load a command."""
        if cmd_name not in COMMANDS:
            return None
        file, _, name = COMMANDS[cmd_name].partition(".")
        with uncollected():
            command: click.Command = getattr(import_module(f"service.commands.{file}"), name)
        return command

    def invoke(self, ctx: click.Context) -> object:
        """Run a command."""
        try:
            return super().invoke(ctx)
        except HeeldepthError as error:
            raise click.ClickException(str(error)) from error


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="heeldepth")
def main() -> None:
    """Learn heel depth from finished hand-knit socks.

    The database is HEELDEPTH_DATABASE_URL, or a SQLite file in your data folder when unset.
    """
