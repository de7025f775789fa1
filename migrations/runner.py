"""Moving a database from one revision to another, and asking where it stands."""

from __future__ import annotations

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection

from models.tables.engine import open_engine, reading

HERE = Path(__file__).parent


def configuration(url: str | None = None) -> Config:
    """Return alembic's settings for a database; nothing is read from a file."""
    config = Config(attributes={"url": url})
    config.set_main_option("script_location", str(HERE).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    config.set_main_option("file_template", "r%%(rev)s_%%(slug)s")
    return config


def upgrade(url: str, revision: str = "head") -> None:
    """Bring a database, which may be empty, up to a revision; all of it or nothing.

    Raises
    ------
    alembic.util.CommandError
        Where the database has a revision that this version of the project does not know.

    """
    command.upgrade(configuration(url), revision)


def downgrade(url: str, revision: str) -> None:
    """Take a database back to a revision (`base` for nothing at all), losing what is newer."""
    command.downgrade(configuration(url), revision)


def head() -> str:
    """Return the newest revision."""
    newest = ScriptDirectory.from_config(configuration()).get_current_head()
    if newest is None:
        raise LookupError(f"no migrations in {HERE / 'versions'}")
    return newest


def current(url: str) -> str | None:
    """Return the revision of a database, or None where it was never migrated."""
    engine = open_engine(url)
    try:
        with reading(engine).connect() as connection:
            return revision_of(connection)
    finally:
        engine.dispose()


def revision_of(connection: Connection) -> str | None:
    """Return the revision of the database that a connection is open on."""
    return MigrationContext.configure(connection).get_current_revision()
