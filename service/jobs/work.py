"""What a job is given to work with: its file, its actor, and a way to say how far it is."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from sqlalchemy.exc import OperationalError
from sqlalchemy.orm import Session

from models.actions import job_runs
from models.actions.actor import Actor
from models.actions.job_files import copy_to
from models.tables.engine import Database
from models.tables.refusals import is_busy

SECONDS_BETWEEN_NOTES = 0.5


class PutBack(Exception):
    """The process is stopping; another worker begins the job afresh."""


class Work:
    """One job in the hands of a worker."""

    def __init__(
        self,
        database: Database,
        held: job_runs.Held,
        actor: Actor,
        heard: Callable[[], None],
    ) -> None:
        self.database, self.held, self.actor = database, held, actor
        self._heard, self._noted_at = heard, time.monotonic()
        self._done = 0
        self._total: int | None = None

    @property
    def asked(self) -> Mapping[str, Any]:
        """What was asked for."""
        return self.held.asked

    def out_of(self, total: int) -> None:
        """Say how many steps there are."""
        self._total = total

    def step(self, steps: int = 1) -> None:
        """Say that so many more steps are done.

        Raises
        ------
        PutBack, Interrupted
            Where work on it must end here.

        """
        self._done += steps
        self._heard()
        if time.monotonic() - self._noted_at >= SECONDS_BETWEEN_NOTES:
            self.note()

    def note(self) -> None:
        """Write down how far it is; where somebody else is writing, the next note does.

        Raises
        ------
        Interrupted
            Where work on it must end here.

        """
        self._noted_at = time.monotonic()
        with unless_busy(), self.database.jot.begin() as session:
            job_runs.go_on(session, self.held, done=self._done, total=self._total)

    @contextmanager
    def file(self) -> Iterator[Path]:
        """Yield a copy of the file that came with the job."""
        with TemporaryDirectory() as folder:
            path = Path(folder) / "upload"
            with self.database.read() as session:
                copy_to(session, self.held.id, path)
            yield path

    def finish(self, session: Session, result: Mapping[str, Any], steps: int = 0) -> None:
        """Mark it as done, after so many more steps, in the transaction of its effect.

        Raises
        ------
        Interrupted
            Where it must not take effect.

        """
        job_runs.finish(session, self.held, result, self._done + steps)


@contextmanager
def unless_busy() -> Iterator[None]:
    """Leave something for later where somebody else is writing for too long."""
    try:
        yield
    except OperationalError as error:
        if not is_busy(error):
            raise
