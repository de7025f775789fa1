"""Running one job: begun, heard of while it lasts, ended in one of five ways."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Event, Thread
from traceback import format_tb

from sqlalchemy.exc import OperationalError

from models.actions import job_runs
from models.actions.file_outcome import FileRefused
from models.domain.errors import HeeldepthError
from models.domain.jobs import BEAT
from models.tables.engine import Database
from service.apart import Here, Workroom
from service.jobs.kinds import KINDS
from service.jobs.work import PutBack, Work, busy
from service.problems import broken, told
from service.uploads import refused_rows

log = logging.getLogger(__name__)


class Runner:
    """Runs jobs of one database in this process; `stopping` is set when it is to end soon.

    Long arithmetic is done in a workroom where there is one, else in the thread that runs it.
    """

    def __init__(self, database: Database, workroom: Workroom | None = None) -> None:
        self._database, self._workroom = database, workroom or Here(database)
        self._held: dict[str, job_runs.Held] = {}
        self.stopping = Event()

    def run(self, job_id: str) -> str | None:
        """Run a job if it waits, and return the id of one that waited for it to end."""
        with self._database.write.begin() as session:
            held = job_runs.begin(session, job_id)
        if held is None:
            return None
        self._held[held.id] = held
        try:
            with _heard_of(self._database, held):
                self._try(held)
        finally:
            self._held.pop(held.id, None)
        with self._database.read() as session:
            return job_runs.next_of_its_kind(session, held)

    def _try(self, held: job_runs.Held) -> None:
        database = self._database
        try:
            with database.read() as session:
                actor = job_runs.actor_of_job(session, held)
            kind = KINDS[held.kind]
            actor.require(kind.action)
            kind.run(Work(database, self._workroom, held, actor, self.stopping))
        except PutBack:
            with database.write.begin() as session:
                job_runs.put_back(session, held)
        except job_runs.Interrupted:
            with database.write.begin() as session:
                job_runs.give_up(session, held)
        except FileRefused as refused:
            _fail(database, held, refused_rows(refused))
        except HeeldepthError as error:
            _fail(database, held, error)
        except Exception as error:  # noqa: BLE001 - whatever broke, the job must not look alive
            _break(database, held, error)

    def put_back(self) -> None:
        """Let others begin what is still running here, which then takes no effect any more."""
        for held in list(self._held.values()):
            with self._database.write.begin() as session:
                job_runs.put_back(session, held)


def _fail(database: Database, held: job_runs.Held, error: HeeldepthError) -> None:
    with database.write.begin() as session:
        job_runs.fail(session, held, told(error))


def _break(database: Database, held: job_runs.Held, error: Exception) -> None:
    """Log where it broke, without its message, which may hold what somebody sent."""
    frames = "".join(format_tb(error.__traceback__))
    log.error("%s in a job of kind %s\n%s", type(error).__name__, held.kind, frames)
    with database.write.begin() as session:
        job_runs.fail(session, held, broken())


@contextmanager
def _heard_of(database: Database, held: job_runs.Held) -> Iterator[None]:
    """Say from time to time that the job is being worked on."""
    over = Event()
    thread = Thread(target=_beat, args=(database, held, over), daemon=True)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()


def _beat(database: Database, held: job_runs.Held, over: Event) -> None:
    while not over.wait(BEAT.total_seconds()):
        try:
            with database.jot.begin() as session:
                job_runs.go_on(session, held)
        except job_runs.Interrupted:
            return
        except OperationalError as error:
            if not busy(error):
                log.warning("a job could not say that it goes on: the database does not answer")
