"""What a page of a list costs in groups of different size.

Run: PYTHONPATH=. python .bench/lists.py. Sizes may be named: lists.py 1000 50000.

The application answers in this process, on SQLite, one request after another and then eight at a
time; milliseconds of CPU a request, and as many times those of reading the group itself, which is
one row. A group has a person for every hundred reports; who asks has a hundred of them, and as many
feet and suggestions, every third of which was followed.
"""

from __future__ import annotations

import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from sqlalchemy import insert

from migrations.runner import upgrade
from models.actions import tokens
from models.tables.engine import Database
from service.app import create_app
from service.config import Settings
from tests.large_group import GROUP, PERSON, named, rows

SIZES = (1_000, 10_000, 100_000)
EACH = 100
TIMES, CLIENTS = 200, 8
LISTS = {
    "the group": "",
    "own reports": "/reports?limit=50",
    "own feet": "/feet?limit=50",
    "own suggestions": "/suggestions?limit=50",
    "held reports": "/reviews?limit=50",
}


def measure(reports: int) -> None:
    """Print a line for each list of a group."""
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'bench.db'}"
        upgrade(url)
        database = Database(url)
        with database.write.begin() as session:
            for table, made in rows(max(2, reports // EACH), reports, held_each=1_000):
                session.execute(insert(table), made)
            shown = {n: tokens.issue(session, named(PERSON, n), "bench") for n in (0, 1)}
        database.close()
        app = create_app(Settings(url))
        bare: dict[int, float] = {}
        for name, path in LISTS.items():
            token = shown[0 if name == "held reports" else 1]
            for clients in (1, CLIENTS):
                ms = cost(app, path, token, clients)
                times = ms / bare.setdefault(clients, ms)
                size = f"{reports:>7,} reports, {clients} at a time"
                print(f"{size}, {name}: {ms:.1f} ms, {times:.1f}x")
        app.extensions["heeldepth"].close()


def cost(app: Any, path: str, token: str, clients: int) -> float:
    """Return milliseconds of CPU of one request, of many by so many clients."""
    headers = {"Authorization": f"Bearer {token}"}

    def ask(number: int) -> None:
        client = app.test_client()
        for _ in range(number):
            answer = client.get(f"/v1/groups/{GROUP}{path}", headers=headers)
            if answer.status_code != 200:
                raise SystemExit(f"{path}: {answer.status_code}")

    ask(5)
    began = time.process_time()
    with ThreadPoolExecutor(clients) as threads:
        list(threads.map(ask, [TIMES // clients] * clients))
    return 1000 * (time.process_time() - began) / (TIMES // clients * clients)


if __name__ == "__main__":
    for size in [int(text) for text in sys.argv[1:]] or SIZES:
        measure(size)
