"""What a page of a list costs in groups of different size. Run: python .bench/lists.py.

Sizes may be named: python .bench/lists.py 1000 50000.

The application answers in this process, on SQLite, one request after another and then eight at a
time; milliseconds of CPU a request, and as many times those of reading the group itself, which is
one row. A group has a person for every hundred reports; who asks has a hundred of them, and as many
feet and suggestions, every third of which was followed.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from sqlalchemy import insert

from migrations.runner import upgrade
from models.actions import tokens
from models.tables.base import now
from models.tables.engine import Database
from models.tables.learned import Suggestion
from models.tables.people import Group, Member, Person
from models.tables.socks import Foot, Report
from service.app import create_app
from service.config import Settings

SIZES = (1_000, 10_000, 100_000)
EACH = 100
TIMES, CLIENTS = 200, 8
GROUP = f"{1:032x}"
LISTS = {
    "the group": "",
    "own reports": "/reports?limit=50",
    "own feet": "/feet?limit=50",
    "own suggestions": "/suggestions?limit=50",
    "held reports": "/reviews?limit=50",
}
SOCK = {
    "yarn_weight": 1,
    "stitches_per_10cm": 30,
    "rounds_per_10cm": 42,
    "heel_stitches": 64,
    "plain_rounds": 3,
    "slow_decrease_rounds": 3,
    "medium_decrease_rounds": 4,
    "fast_decrease_rounds": 4,
    "decreases_per_round": 4,
    "fit_score": 0,
}
ANSWER = {"slow_decrease_rounds": 4, "depth_mm": 60.0, "chance_just_right": 0.5, "schedule": {}}


def named(kind: int, number: int) -> str:
    """Return an id; those of a kind sort by number."""
    return f"{kind:08x}{number:024x}"


def rows(reports: int) -> Iterator[tuple[Any, list[dict[str, Any]]]]:
    """Yield the rows of a group of so many reports."""
    people, here = max(2, reports // EACH), {"group_id": GROUP}
    yield Group, [{"id": GROUP, "name": "Invented many", "version": 1}]
    yield Person, [{"id": named(1, n)} for n in range(people)]
    yield (
        Member,
        [
            {
                "id": named(2, n),
                "person_id": named(1, n),
                "name": f"Invented {n}",
                "role": "steward" if n == 0 else "knitter",
                "version": 1,
                **here,
            }
            for n in range(people)
        ],
    )
    own = [{"member_id": named(2, n % people), **here} for n in range(reports)]
    foot = {"foot_length_mm": 250, "foot_circumference_mm": 230}
    yield Foot, [{"id": named(3, n), **foot, **own[n]} for n in range(reports)]
    asked = {"question": {"yarn_weight": 1}, "answer": ANSWER}
    yield Suggestion, [{"id": named(4, n), **asked, **own[n]} for n in range(reports)]
    moment = now()
    yield (
        Report,
        [
            {
                "id": named(5, n),
                "foot_id": named(3, n),
                "suggestion_id": named(4, n) if n % 3 == 0 else None,
                "status": "held" if n % 1000 == 0 else "counted",
                "version": 1,
                "created_at": moment,
                "updated_at": moment,
                **SOCK,
                **own[n],
            }
            for n in range(reports)
        ],
    )


def measure(reports: int) -> None:
    """Print a line for each list of a group."""
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'bench.db'}"
        upgrade(url)
        database = Database(url)
        with database.write.begin() as session:
            for table, made in rows(reports):
                session.execute(insert(table), made)
            shown = {n: tokens.issue(session, named(1, n), "bench") for n in (0, 1)}
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
