"""Hundreds of requests are begun and never finished: everybody else is answered all the same.

A third stop in the headers, a third in the body, a third never say anything. The server must let
go of them by itself, too, and have no more memory in use afterwards than before.
"""

from __future__ import annotations

import socket
import time
from collections.abc import Iterator
from statistics import median

from faults import group
from faults.claims import Claim, below, none, progress
from faults.client import HOST
from faults.group import Group
from faults.served import served
from faults.setting import Setting

HELD = 500
ASKED = 50
SLOWEST_S = 1.0
LETS_GO_S = 120
"""Idle connections are looked for twice a minute, and given a minute."""
MOST_MB = 50


def run(setting: Setting) -> Iterator[Claim]:
    """Hold, ask, wait until they are let go."""
    number = setting.amount(HELD, 150)
    with served(setting.url) as server:
        where = group.found(server)
        alone = _asked(where, "before")
        memory = server.memory_mb()
        begun = [_begun(where, n) for n in range(number)]
        times = _asked(where, "meanwhile")
        usual = f"median {median(alone) * 1000:.0f} ms alone, {median(times) * 1000:.0f} ms now"
        yield Claim(f"answered beside {number} half-sent requests", usual, len(times) == ASKED)
        yield below("slowest answer", max(times), SLOWEST_S, "s")
        yield below("memory for them", server.memory_mb() - memory, MOST_MB, "MB")
        if not setting.short:
            yield none(f"not let go after {LETS_GO_S} s", _still_open(begun, LETS_GO_S))
        for one in begun:
            one.close()
        yield none("errors logged", server.logged().count("Traceback"))


def _begun(where: Group, number: int) -> socket.socket:
    """Begin a request and leave it there."""
    head = f"POST {where.path}/reports HTTP/1.1\r\nHost: {HOST}\r\n"
    rest = f"Authorization: Bearer {where.token}\r\nContent-Length: 900000\r\n\r\n"
    parts = ("", head, head + rest + "{" * 1000)
    connection = socket.create_connection((HOST, where.server.port), timeout=10)
    connection.sendall(parts[number % len(parts)].encode())
    return connection


def _asked(where: Group, when: str) -> list[float]:
    """Return how long reports took, each sent over a connection of its own."""
    times = []
    for number in range(ASKED):
        client = where.client()
        start = time.perf_counter()
        client.made(f"{where.path}/reports", group.report(f"{when} {number}"))
        times.append(time.perf_counter() - start)
        client.close()
    progress(f"{when}: {median(times) * 1000:.0f} ms a report")
    return times


def _still_open(begun: list[socket.socket], seconds: float) -> list[str]:
    """Return which connections the server has not closed in time."""
    until = time.monotonic() + seconds
    while (left := [one for one in begun if not _closed(one)]) and time.monotonic() < until:
        progress(f"{len(left)} still open")
        time.sleep(5)
    return [str(one.getsockname()[1]) for one in left]


def _closed(connection: socket.socket) -> bool:
    """Return whether the server has hung up; what it says before that is read."""
    connection.setblocking(False)  # noqa: FBT003 -- positional only
    try:
        while connection.recv(4096):
            continue
    except BlockingIOError:
        return False
    except OSError:
        return True
    return True
