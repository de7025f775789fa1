"""The command `heeldepth`.

Exit codes that scripts can trust: 0 done; 1 refused, nothing was changed; 2 wrong usage;
3 done in part (only with --keep-good: some rows were left out).
"""

from __future__ import annotations

import click

from models.domain.errors import HeeldepthError
from service.commands import (
    backing,
    calibrated,
    calibrating,
    designing,
    files,
    groups,
    keeping,
    leaving,
    members,
    outcomes,
    reviewing,
    story,
    wider_pool,
)


class Commands(click.Group):
    """A group of commands that answers our errors with one line and exit code 1."""

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


for command in (
    story.demo,
    keeping.serve,
    keeping.work,
    keeping.database,
    backing.backup,
    backing.restore,
    backing.check,
    groups.group,
    members.member,
    members.invite,
    members.account,
    leaving.erasures,
    files.import_,
    calibrating.calibrate,
    reviewing.review,
    outcomes.outcomes,
    calibrating.activate,
    calibrating.rollback,
    files.suggest,
    files.export,
    files.template,
    designing.sizes,
    calibrated.defaults,
    calibrated.plan,
    wider_pool.pool,
):
    main.add_command(command)
