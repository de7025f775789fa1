"""Doing a job that was begun, until it has ended in one of five ways."""

from __future__ import annotations

import logging
from collections.abc import Callable

from sqlalchemy.exc import DBAPIError

from models.actions import job_runs
from models.actions.file_outcome import FileRefused
from models.domain.errors import HeeldepthError
from models.domain.jobs import MOST_TRIES
from models.tables.engine import Database
from models.tables.refusals import is_busy, may_pass
from service.jobs.kinds import KINDS, Kind
from service.jobs.work import PutBack, Work
from service.logs import where_it_broke
from service.problems import broken, found_no_room, no_room, told
from service.uploads import refused_rows

log = logging.getLogger(__name__)


def do(database: Database, heard: Callable[[], None], held: job_runs.Held) -> None:
    """Do a job; what `heard` raises, at any of its steps, ends it."""
    try:
        with database.read() as session:
            actor = job_runs.actor_of_job(session, held)
        kind = _kind_of(held)
        actor.require(kind.action)
        kind.run(Work(database, held, actor, heard))
    except (PutBack, job_runs.Interrupted) as stopped:
        end(database, held, stopped)
    except (DBAPIError, OSError) as error:
        if _has_another_try(held, error):
            end(database, held, PutBack())
        else:
            _break(database, held, error)
    except FileRefused as refused:
        _fail(database, held, refused_rows(refused))
    except HeeldepthError as error:
        _fail(database, held, error)
    except Exception as error:  # noqa: BLE001 - whatever broke, the job must not look alive
        _break(database, held, error)


def end(database: Database, held: job_runs.Held, stopped: PutBack | job_runs.Interrupted) -> None:
    """Let another worker begin a job afresh, or mark it as cancelled, whichever stopped it."""
    ended = job_runs.put_back if isinstance(stopped, PutBack) else job_runs.give_up
    with database.write.begin() as session:
        ended(session, held)


def _kind_of(held: job_runs.Held) -> Kind:
    """Return the kind of a job; one that only a newer version has is left to its workers."""
    kind = KINDS.get(held.kind)
    if kind is None:
        raise PutBack
    return kind


def _has_another_try(held: job_runs.Held, error: DBAPIError | OSError) -> bool:
    """Return whether a job that the database or a disk refused is begun again.

    What was sent is not lost. Whoever writes for long comes to an end; what else may pass is not
    tried for ever.
    """
    if isinstance(error, DBAPIError) and is_busy(error):
        return True
    passes = may_pass(error) if isinstance(error, DBAPIError) else found_no_room(error)
    return passes and held.tries < MOST_TRIES


def _fail(database: Database, held: job_runs.Held, error: HeeldepthError) -> None:
    with database.write.begin() as session:
        job_runs.fail(session, held, told(error))


def _break(database: Database, held: job_runs.Held, error: Exception) -> None:
    name, frames = type(error).__name__, where_it_broke(error)
    said = {"job": held.id, "kind": held.kind}
    log.error("%s in a job of kind %s\n%s", name, held.kind, frames, extra=said)
    with database.write.begin() as session:
        job_runs.fail(session, held, no_room() if found_no_room(error) else broken())
