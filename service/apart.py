"""Jobs and long arithmetic in processes of their own, so that nobody's request waits for them.

Threads of one Python take turns: a calibration among them would make every request slower while it
lasts, and could not be stopped. A process has an interpreter to itself, can be given a lower
priority, and be killed where nobody wants its answer any more.
"""

from __future__ import annotations

import gc
import logging
import os
import signal
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from multiprocessing import get_all_start_methods, get_context, parent_process
from multiprocessing.connection import Connection
from tempfile import TemporaryDirectory
from threading import BoundedSemaphore, Event, Thread
from typing import Any, Protocol, TypeVar

from models.domain.errors import Busy, HeeldepthError, Unavailable
from models.tables.engine import Database
from service.logs import where_it_broke

T = TypeVar("T")

Heard = Callable[[], None]
"""Called now and then while something lasts; what it raises ends it."""

Arithmetic = Callable[[Database, Heard], T]
"""A function of a module, or a partial one; it, and what it returns, can be pickled."""

SECONDS_BETWEEN_LOOKS = 0.5
POLITENESS = 10
"""By how much less urgent it is than requests (`nice`)."""

LOADED = (
    "service.jobs.doing",
    "models.learning.ordinal.regression",
    "sklearn.model_selection",
    "scipy.stats",
    "pandas",
)
"""What is loaded once, into a process of which all others are copies."""

log = logging.getLogger(__name__)


def nothing() -> None:
    """Let it go on."""


class Workroom(Protocol):
    """Where jobs and long arithmetic are done."""

    def run(self, work: Arithmetic[T], heard: Heard = nothing) -> T:
        """Return what a function of the database returns, unless `heard` raises meanwhile."""


class Here:
    """The thread that asks, which only the work itself can end: for tests, and inside others."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def run(self, work: Arithmetic[T], heard: Heard = nothing) -> T:
        """Return what a function of the database returns."""
        heard()
        return work(self._database, heard)


class Apart:
    """Processes of their own, `most` at once; who waits longer than `patience_s` is refused.

    `begin` is called first in each.
    """

    def __init__(
        self, url: str, most: int, begin: Heard = nothing, *, patience_s: float = float("inf")
    ) -> None:
        self._url, self._begin = url, begin
        self._turns, self._patience_s = BoundedSemaphore(most), patience_s
        # Windows knows only new processes, which load everything themselves.
        forks = "forkserver" in get_all_start_methods()
        self._context: Any = get_context("forkserver" if forks else "spawn")
        if forks:
            self._context.set_forkserver_preload([*LOADED])
        self._closed = Event()

    def run(self, work: Arithmetic[T], heard: Heard = nothing) -> T:
        """Return what a function of the database returns; what `heard` raises ends it.

        Raises
        ------
        Busy
            Where no turn came in time.
        Unavailable
            Where the process came to its end without an answer, or this is closed.

        """

        def asked() -> None:
            self._require_open()
            heard()

        self._require_open()
        self._wait(asked)
        try:
            # What a process that is killed leaves behind goes with its folder.
            with TemporaryDirectory(prefix="heeldepth-", ignore_cleanup_errors=True) as folder:
                answer = self._answer(_Given(self._url, self._begin, folder), work, asked)
        finally:
            self._turns.release()
        if isinstance(answer, Exception):
            raise answer
        return answer  # type: ignore[no-any-return]

    def close(self) -> None:
        """End what still goes on, and whatever is asked for from now on; both are refused."""
        self._closed.set()

    def _wait(self, heard: Heard) -> None:
        until = time.monotonic() + self._patience_s
        while not self._turns.acquire(timeout=SECONDS_BETWEEN_LOOKS):
            heard()
            if time.monotonic() > until:
                raise Busy("others have the same done just now: try again in a while")

    def _require_open(self) -> None:
        if self._closed.is_set():
            raise Unavailable("this process is about to end: try again")

    def _answer(self, given: _Given, work: Arithmetic[T], heard: Heard) -> Any:
        ours, theirs = self._context.Pipe(duplex=False)
        process = self._context.Process(target=_work, args=(theirs, given, work), daemon=True)
        process.start()
        theirs.close()
        try:
            return _told(ours, heard)
        finally:
            process.kill()
            process.join()
            ours.close()


@dataclass(frozen=True)
class _Given:
    """What a process is given: the database, what it calls first, a folder for its files."""

    url: str
    begin: Heard
    folder: str


def _told(ours: Connection[Any, Any], heard: Heard) -> Any:
    try:
        while not ours.poll(SECONDS_BETWEEN_LOOKS):
            heard()
        return ours.recv()
    except (EOFError, BrokenPipeError, ConnectionResetError) as error:
        raise Unavailable("what worked on it was ended from outside: try again") from error


def _work(theirs: Connection[Any, Any], given: _Given, work: Arithmetic[T]) -> None:
    """Work on it in this process, and send what came of it, or what was raised."""
    # What was loaded stays shared: looking for garbage in it would write to it, so copy all of it.
    gc.freeze()
    # A terminal and a service manager tell all processes to stop; the one that asked decides.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    Thread(target=_end_with_parent, daemon=True).start()
    tempfile.tempdir = given.folder
    given.begin()
    with closing(Database(given.url)) as database:
        theirs.send(_answered(database, work))


def _answered(database: Database, work: Arithmetic[T]) -> T | Exception:
    """Return what came of it, or what was raised: whoever asked raises it again.

    Where it broke is known only here.
    """
    try:
        return work(database, nothing)
    except HeeldepthError as refused:
        return refused
    except Exception as error:  # noqa: BLE001 - see above
        name, frames = type(error).__name__, where_it_broke(error)
        log.error("%s in a process of its own\n%s", name, frames)  # noqa: TRY400 - see there
        return error


def politely() -> None:
    """Let requests come first from now on, where this is a process of its own.

    For arithmetic, and not before it writes: while SQLite's lock is held nobody should be slow.
    """
    if parent_process() is not None and hasattr(os, "nice"):
        os.nice(max(0, POLITENESS - os.nice(0)))


def _end_with_parent() -> None:
    """End this process where the one that asked was killed: nobody waits for its answer."""
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
