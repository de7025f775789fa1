"""A Redis for tests: a process of its own on the loopback, which keeps nothing on disk."""

from __future__ import annotations

import shutil
import socket
import subprocess
import time
from dataclasses import dataclass

import pytest

PROGRAM = "redis-server"


@dataclass
class RedisServer:
    """One server, which can be gone for a while and come back empty."""

    port: int
    process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        return f"redis://127.0.0.1:{self.port}/0"

    def start(self) -> None:
        keeps_nothing = ["--save", "", "--appendonly", "no"]
        address = ["--bind", "127.0.0.1", "--port", str(self.port)]
        self.process = subprocess.Popen(
            [PROGRAM, *address, *keeps_nothing], stdout=subprocess.DEVNULL
        )
        patience = time.monotonic() + 20
        while not self._listens():
            assert self.process.poll() is None, "redis-server did not start"
            assert time.monotonic() < patience, "redis-server does not listen"
            time.sleep(0.05)

    def stop(self) -> None:
        if self.process is not None:
            self.process.terminate()
            self.process.wait()
            self.process = None

    def _listens(self) -> bool:
        with socket.socket() as probe:
            return probe.connect_ex(("127.0.0.1", self.port)) == 0


def found() -> RedisServer:
    """Return a server that is not started yet, or skip the test where it cannot be."""
    pytest.importorskip("redis", reason="the Python package redis is not installed")
    if shutil.which(PROGRAM) is None:
        pytest.skip("there is no redis-server: apt-get install redis-server")
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return RedisServer(int(probe.getsockname()[1]))
