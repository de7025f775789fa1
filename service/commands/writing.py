"""Files that commands write: of a kind that their ending says, and whole or not at all."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any, TypeVar

import click

from models.tables.engine import file_of
from service.config import Settings

Command = TypeVar("Command", bound=Callable[..., Any])


class FileToWrite(click.Path):
    """A file whose name ends in one of some endings, in any where none are named."""

    def __init__(self, *endings: str) -> None:
        super().__init__(dir_okay=False, path_type=Path)
        self._endings = endings

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Path:
        """Return the path, or say which endings there are."""
        path = Path(os.fsdecode(super().convert(value, param, ctx)))
        if self._endings and ending(path) not in self._endings:
            wanted = " or ".join(f".{one}" for one in self._endings)
            self.fail(f"{path} must end in {wanted}", param, ctx)
        return path


def out(*endings: str) -> Callable[[Command], Command]:
    """Return the option of a command that names the file to write."""
    return click.option("--out", required=True, type=FileToWrite(*endings), help="File to write.")


def ending(path: Path) -> str:
    """Return how the name of a file ends, which says of what kind it is.

    >>> ending(Path("reports.XLSX"))
    'xlsx'
    """
    return path.suffix.lower().removeprefix(".")


def replaceable(out: Path) -> Path:
    """Return where a file is that another may replace.

    A database that is replaced while somebody has it open is damaged, and what it held is lost.

    Raises
    ------
    ClickException
        Where it is no ordinary file, the database, or one that somebody has open.

    """
    target = out.resolve()
    if target.exists() and not target.is_file():
        raise click.ClickException(f"{out} is no ordinary file, so nothing can take its place")
    database = file_of(Settings.from_environment().database_url)
    ours = database is not None and target in _with_logs(database.resolve())
    if ours or (target.exists() and any(log.exists() for log in _with_logs(target)[1:])):
        raise click.ClickException(f"{out} is a database that is in use; name another file")
    return target


def _with_logs(database: Path) -> list[Path]:
    """Return the files of a SQLite database: itself, and those that are there while it is open."""
    return [Path(f"{database}{ending}") for ending in ("", "-wal", "-shm", "-journal")]


@contextmanager
def replacing(out: Path, *, binary: bool = False) -> Iterator[IO[Any]]:
    """Write a file, UTF-8 or binary, that takes the place of `out` only when it is complete."""
    target = replaceable(out)
    try:
        handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{out.name}-")
    except OSError as error:
        raise click.ClickException(f"cannot write {out}: {error.strerror}") from error
    try:
        text: dict[str, Any] = {} if binary else {"encoding": "utf-8", "newline": ""}
        with os.fdopen(handle, "wb" if binary else "w", **text) as file:
            yield file
        Path(name).replace(target)
    finally:
        Path(name).unlink(missing_ok=True)
