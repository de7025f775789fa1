"""Backing up and restoring the database.

A backup is one SQLite file with every row, whichever database it is of. It is read in one
transaction, so it is of one moment while others go on writing; it can be restored into SQLite and
into PostgreSQL, which is also how a group moves from the one to the other.
"""

from __future__ import annotations

import shutil
import sqlite3
import sys
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager
from pathlib import Path

import click
from sqlalchemy import Connection
from sqlalchemy.exc import DBAPIError

from migrations import runner
from models.domain.errors import Conflict, Unavailable
from models.domain.wording import counted
from models.tables.copying import copy_rows, count_rows
from models.tables.engine import Database
from service.commands.opening import answering, opened
from service.commands.upgrading import bring_to_head
from service.commands.writing import replaceable
from service.config import Settings

OWNER_ALONE = 0o600

_BACKUP = click.Path(exists=True, dir_okay=False, path_type=Path)
_OUT = click.Path(dir_okay=False, path_type=Path)


@click.command()
@click.argument("file", type=_OUT)
def backup(file: Path) -> None:
    """Write every row of the database to one file, as of this moment; others may go on writing."""
    with opened() as database, _replacing(file) as unfinished, database.look() as source:
        count = _written(source, unfinished)
    click.echo(f"Backed up {counted(count, 'row')} to {file}.")


@click.command()
@click.argument("file", type=_BACKUP)
def restore(file: Path) -> None:
    """Fill an empty database with the rows of a backup: all of them or none.

    A backup of an older version is brought up to date on the way; the file stays as it is.
    """
    settings = Settings.from_environment()
    with _up_to_date(file) as url, answering():
        with _database(settings.database_url) as target, target.look() as rows:
            _require_empty(rows, file)  # before anything is changed: it may be a live one
        bring_to_head(settings.database_url, "this database")
        with _database(url) as kept, kept.look() as source, opened() as database:
            with database.write.begin() as session:
                count = _filled(source, session.connection(), file)
    click.echo(f"Restored {counted(count, 'row')} from {file}.")


@contextmanager
def _replacing(file: Path) -> Iterator[Path]:
    """Yield a place for a file, for its owner alone, that replaces another once it is whole."""
    target = replaceable(file)
    try:
        folder = tempfile.TemporaryDirectory(dir=target.parent, prefix=f".{file.name}-")
    except OSError as error:
        raise click.ClickException(f"cannot write {file}: {error.strerror}") from error
    with folder as name:
        unfinished = Path(name) / "backup.db"
        yield unfinished
        try:
            unfinished.chmod(OWNER_ALONE)
            unfinished.replace(target)
        except OSError as error:
            raise click.ClickException(f"cannot write {file}: {error.strerror}") from error


def _written(source: Connection, file: Path) -> int:
    """Fill a file with all rows, and leave it whole in itself: no log beside it."""
    with _database(f"sqlite:///{file}") as target:
        runner.upgrade(f"sqlite:///{file}")
        with target.engine.begin() as rows:
            count = _copied(source, rows, "Backing up")
    try:
        with closing(sqlite3.connect(file)) as plain:
            plain.execute("PRAGMA synchronous = FULL")
            plain.execute("PRAGMA journal_mode = DELETE")
    except sqlite3.Error as error:
        raise Unavailable(f"the backup could not be completed: {error}") from error
    return count


def _filled(source: Connection, target: Connection, file: Path) -> int:
    _require_empty(target, file)
    return _copied(source, target, "Restoring")


def _require_empty(target: Connection, file: Path) -> None:
    if there := count_rows(target):
        held = counted(there, "row")
        raise Conflict(f"the database holds {held} already: restore {file} into an empty one")


def _copied(source: Connection, target: Connection, label: str) -> int:
    with click.progressbar(length=count_rows(source), label=label, file=sys.stderr) as bar:
        return copy_rows(source, target, bar.update)


@contextmanager
def _database(url: str) -> Iterator[Database]:
    database = Database(url)
    try:
        yield database
    finally:
        database.close()


@contextmanager
def _up_to_date(file: Path) -> Iterator[str]:
    """Yield the URL of a copy of a backup that is at the newest migration.

    Raises
    ------
    Unavailable
        Where the file is damaged, no backup, or of a newer version of this project, or where there
        is no room for a copy.

    """
    with _copy_of(file) as copy:
        _require_backup(copy, file)
        url = f"sqlite:///{copy}"
        try:
            bring_to_head(url, str(file))
        except DBAPIError as error:
            raise Unavailable(f"cannot bring a copy of {file} up to date: {error.orig}") from error
        yield url


@contextmanager
def _copy_of(file: Path) -> Iterator[Path]:
    with ExitStack() as kept:
        try:
            folder = kept.enter_context(tempfile.TemporaryDirectory(prefix="heeldepth-"))
            copy = Path(shutil.copyfile(file, Path(folder) / "backup.db"))
        except OSError as error:
            why = error.strerror or error
            raise Unavailable(f"cannot copy {file} to a folder in TMPDIR: {why}") from error
        yield copy


def _require_backup(copy: Path, file: Path) -> None:
    try:
        with closing(sqlite3.connect(copy)) as plain:
            (found,) = plain.execute("PRAGMA integrity_check").fetchone()
            plain.execute("SELECT version_num FROM alembic_version").fetchone()
    except sqlite3.DatabaseError as error:
        raise Unavailable(f"{file} is no backup of heeldepth, or damaged: {error}") from error
    if found != "ok":
        raise Unavailable(f"{file} is damaged: {found}")
