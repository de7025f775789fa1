"""`heeldepth serve` as a process: started, measured, killed."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from faults.client import BROKEN, HOST, Client

COMMAND = (sys.executable, "-c", "from service.cli import main; main()", "serve")
OFTEN = "100000000 per hour"
NO_LIMITS = dict.fromkeys(
    (f"HEELDEPTH_{what}_LIMIT" for what in ("LOGIN", "REPORT", "JOINING", "IMPORT", "EXPORT")),
    OFTEN,
)
PATIENCE = 60

_NOT_PASSED_ON = ("HEELDEPTH_", "PYTHONDONTWRITEBYTECODE")
"""Settings of ours, and what would have each start compile everything anew: the service as people
run it keeps its byte code."""


class Served:
    """A server on a database; started again it has the same address."""

    def __init__(self, url: str, **settings: str) -> None:
        self.port = _free_port()
        own = {"HEELDEPTH_DATABASE_URL": url, "HEELDEPTH_PORT": str(self.port)}
        others = {n: v for n, v in os.environ.items() if not n.startswith(_NOT_PASSED_ON)}
        self._environment = {**others, **NO_LIMITS, **own, **settings}
        self._process: subprocess.Popen[bytes] | None = None
        self._log = tempfile.TemporaryFile("w+")  # noqa: SIM115 -- as long as the server

    def start(self) -> float:
        """Start it, and return after how many seconds it was ready."""
        began = time.monotonic()
        self._process = subprocess.Popen(
            COMMAND, env=self._environment, stdout=subprocess.DEVNULL, stderr=self._log
        )
        while not self._ready():
            if self.process.poll() is not None or time.monotonic() - began > PATIENCE:
                raise RuntimeError(f"the server did not start: {self.logged()}")
            time.sleep(0.02)
        return time.monotonic() - began

    def kill(self) -> None:
        """End it at once, whatever it is doing."""
        self._end(signal.SIGKILL)

    def stop(self) -> None:
        """Tell it to end."""
        self._end(signal.SIGTERM)

    def client(self, token: str = "") -> Client:
        """Return a client of its own."""
        return Client(self.port, token)

    def memory_mb(self) -> float:
        """Return how much memory it has in use (Linux tells; resident set)."""
        told = Path(f"/proc/{self.process.pid}/status").read_text()
        [kilobytes] = re.findall(r"VmRSS:\s+(\d+) kB", told)
        return int(kilobytes) / 1024

    def memory_of_all_mb(self) -> float:
        """Return how much memory it and its workers have in use, what they share counted once.

        Looked at again where a worker came or went meanwhile: what it shared would count twice.
        """
        found, later = {}, _proportional_mb(self.process.pid)
        while found.keys() != later.keys():
            found, later = later, _proportional_mb(self.process.pid)
        return sum(found.values())

    @property
    def process(self) -> subprocess.Popen[bytes]:
        """The process that runs now.

        Raises
        ------
        RuntimeError
            Where it was never started.

        """
        if self._process is None:
            raise RuntimeError("the server was never started")
        return self._process

    def logged(self) -> str:
        """Return all that it complained about."""
        self._log.seek(0)
        return self._log.read()

    def _ready(self) -> bool:
        client = Client(self.port, patience=5)
        with suppress(*BROKEN):
            return client.ask("GET", "/readyz").status == 200
        return False

    def _end(self, how: signal.Signals) -> None:
        self.process.send_signal(how)
        self.process.wait()


@contextmanager
def served(url: str, **settings: str) -> Iterator[Served]:
    """Serve a database until the end, whatever happens."""
    server = Served(url, **settings)
    server.start()
    try:
        yield server
    finally:
        server.stop()


def _with_descendants(pid: int) -> set[int]:
    """Return a process and all that it has started (Linux tells)."""
    parents = {}
    for status in Path("/proc").glob("[0-9]*/status"):
        with suppress(OSError):  # it has ended meanwhile
            [parent] = re.findall(r"PPid:\s+(\d+)", status.read_text())
            parents[int(status.parent.name)] = int(parent)
    found = {pid}
    while more := {child for child, parent in parents.items() if parent in found} - found:
        found |= more
    return found


def _proportional_mb(first: int) -> dict[int, float]:
    """Return the memory of a process and of each that it has started.

    Each has its share of what it has in common with others.
    """
    found = {}
    for pid in _with_descendants(first):
        with suppress(OSError):  # it has ended meanwhile
            told = Path(f"/proc/{pid}/smaps_rollup").read_text()
            found.update((pid, int(kb) / 1024) for kb in re.findall(r"\nPss:\s+(\d+) kB", told))
    return found


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind((HOST, 0))
        return int(probe.getsockname()[1])
