"""How much dearer an import is than csv.reader + executemany, or than COPY.

Run: python .bench/imports.py [ROWS] [POSTGRESQL_URL]

On SQLite four ways in, in turn, each into a fresh file opened the same way: ours with all its
checks; ours over HTTP, as a job, from the first byte sent until the job is seen to be done;
csv.reader + sqlite3.executemany of the same rows into the same tables; and the same into one bare
table without keys, checks or references, which cannot serve but is the least a file can cost. On
PostgreSQL too, beside COPY into the same tables: the wheel's, or the one of a URL where databases
may be made. Ratios of each turn count; seconds only describe the machine.
"""

from __future__ import annotations

import csv
import http.client
import json
import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from functools import partial
from pathlib import Path
from statistics import median
from uuid import uuid4

import numpy as np
import psycopg
from faults.databases import server
from sqlalchemy import make_url

from migrations.runner import upgrade
from models.actions import tokens
from models.actions.actor import operator
from models.actions.groups import create_group
from models.actions.import_reports import read_first, take_in
from models.domain.anthropometry import regression
from models.domain.foot import MEASUREMENT_NAMES
from models.domain.reports import USUAL_COLUMNS
from models.tables.base import new_id
from models.tables.engine import BUSY_TIMEOUT_MS, CACHE_KIB, Database
from seed_demo.server import HOST, running
from service.config import Settings

TURNS = 3
REPORTERS = 500
FEET_EACH = 3
SOCK = USUAL_COLUMNS[5:]


def write_reports(path: Path, rows: int) -> None:
    """Write invented reports: 500 reporters, three feet each, every third without a diagonal."""
    draw = np.random.default_rng(7)
    heel = regression("heel_diagonal_mm", frozenset(MEASUREMENT_NAMES[:2]))
    feet = []
    for _ in range(REPORTERS * FEET_EACH):
        length = round(draw.normal(255, 12))
        ball = round(0.75 * (length - 255) + draw.normal(238, 8))
        given = {"foot_length_mm": length, "foot_circumference_mm": ball}
        diagonal = round(heel.predict(given)) if draw.random() < 2 / 3 else ""
        feet.append((length, ball, diagonal, ""))
    with path.open("w", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(USUAL_COLUMNS)
        for _ in range(rows):
            foot = int(draw.integers(len(feet)))
            slow = int(draw.integers(8))
            sock = (1, 30, 42.5, 64, 3, slow, 2, 10 - slow, int(draw.integers(-2, 3)))
            writer.writerow((f"Reporter {foot % REPORTERS}", *feet[foot], *sock))


def raw_connection(path: Path) -> sqlite3.Connection:
    """Open SQLite as the service does."""
    connection = sqlite3.connect(path, isolation_level=None)
    for pragma in (
        f"busy_timeout = {BUSY_TIMEOUT_MS}",
        f"cache_size = -{CACHE_KIB}",
        "journal_mode = WAL",
        "synchronous = FULL",
        "foreign_keys = ON",
    ):
        connection.execute(f"PRAGMA {pragma}")
    return connection


def bare_table(source: Path, url: str) -> float:
    """Return the seconds of the least there is."""
    connection = raw_connection(Path(str(make_url(url).database)))
    connection.execute(f"CREATE TABLE r ({', '.join(USUAL_COLUMNS)})")
    marks = ", ".join("?" * len(USUAL_COLUMNS))
    start = time.perf_counter()
    with source.open(newline="") as file:
        rows = csv.reader(file)
        next(rows)
        connection.execute("BEGIN IMMEDIATE")
        connection.executemany(f"INSERT INTO r VALUES ({marks})", rows)
        connection.execute("COMMIT")
    seconds = time.perf_counter() - start
    connection.close()
    return seconds


MOMENT = "2026-11-25 12:00:00.000000+00:00"
TABLES = {
    "members": ("id", "group_id", "name", "role", "joined_at"),
    "feet": ("id", "group_id", "member_id", *MEASUREMENT_NAMES, "created_at"),
    "reports": (
        *("id", "group_id", "member_id", "foot_id", *SOCK, "decreases_per_round"),
        *("version", "created_at", "updated_at"),
    ),
}


def read_unchecked(source: Path, group: str) -> dict[str, list[tuple]]:
    """Return the rows of each table that a file makes, as csv.reader gives them."""
    members: dict[str, str] = {}
    feet: dict[tuple[str, ...], str] = {}
    reports = []
    with source.open(newline="") as file:
        rows = csv.reader(file)
        next(rows)
        for row in rows:
            member = members.setdefault(row[0], new_id())
            foot = feet.setdefault((member, *row[1:5]), new_id())
            reports.append((new_id(), group, member, foot, *row[5:], 4, 1, MOMENT, MOMENT))
    return {
        "members": [(one, group, name, "knitter", MOMENT) for name, one in members.items()],
        "feet": [
            (foot, group, k[0], *(v or None for v in k[1:]), MOMENT) for k, foot in feet.items()
        ],
        "reports": reports,
    }


def same_tables(source: Path, url: str) -> float:
    """Return the seconds of csv.reader + executemany into the tables of the service, unchecked."""
    group = prepared(url)[0]
    connection = raw_connection(Path(str(make_url(url).database)))
    start = time.perf_counter()
    made = read_unchecked(source, group)
    connection.execute("BEGIN IMMEDIATE")
    for table, columns in TABLES.items():
        marks = ", ".join("?" * len(columns))
        connection.executemany(
            f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({marks})", made[table]
        )
    connection.execute("COMMIT")
    seconds = time.perf_counter() - start
    connection.close()
    return seconds


def copied(source: Path, url: str) -> float:
    """Return the seconds of csv.reader + COPY into the tables of the service, unchecked."""
    group = prepared(url)[0]
    dsn = make_url(url).set(drivername="postgresql").render_as_string(hide_password=False)
    with psycopg.connect(dsn) as connection:
        start = time.perf_counter()
        made = read_unchecked(source, group)
        for table, columns in TABLES.items():
            with connection.cursor().copy(f"COPY {table} ({', '.join(columns)}) FROM STDIN") as out:
                for row in made[table]:
                    out.write_row(row)
        connection.commit()
        return time.perf_counter() - start


def ours(source: Path, url: str) -> float:
    """Return the seconds of our import, checks and all."""
    group = prepared(url)[0]
    database = Database(url)
    start = time.perf_counter()
    with read_first(source) as chunks, database.write.begin() as session:
        take_in(session, operator(group), chunks)
    seconds = time.perf_counter() - start
    database.close()
    return seconds


def over_http(source: Path, url: str) -> float:
    """Return the seconds until a file that is sent is known to have been taken in."""
    group, token = prepared(url)
    place, headers = f"/v1/groups/{group}", {"Authorization": f"Bearer {token}"}
    with running(Settings(url, most_upload_bytes=1_000_000_000)) as port:
        connection = http.client.HTTPConnection(HOST, port)

        def ask(method: str, path: str, body: bytes | None = None) -> dict:
            connection.request(method, path, body, {**headers, "Content-Type": "text/csv"})
            return dict(json.loads(connection.getresponse().read()))

        start = time.perf_counter()
        job = ask("POST", f"{place}/imports", source.read_bytes())
        while job["ended_at"] is None:
            time.sleep(0.02)
            job = ask("GET", f"{place}/jobs/{job['id']}")
        seconds = time.perf_counter() - start
        connection.close()
    if job["state"] != "done":
        raise SystemExit(job)
    return seconds


def prepared(url: str) -> tuple[str, str]:
    """Return the group of a fresh, upgraded database, and its steward's token."""
    upgrade(url)
    database = Database(url)
    with database.write.begin() as session:
        group, person = create_group(session, "Invented", "Invented steward")
        token = tokens.issue(session, person, "invented")
    database.close()
    return group.id, token


@contextmanager
def on_sqlite() -> Iterator[str]:
    """Yield the URL of a database that is not there yet."""
    with tempfile.TemporaryDirectory() as folder:
        yield f"sqlite:///{folder}/heeldepth.db"


@contextmanager
def on_postgresql(address: str) -> Iterator[str]:
    """Yield the URL of a new database on a server."""
    name = f"heeldepth_bench_{uuid4().hex}"
    dsn = make_url(address).set(drivername="postgresql").render_as_string(hide_password=False)
    with psycopg.connect(dsn, autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}")
        try:
            yield make_url(address).set(database=name).render_as_string(hide_password=False)
        finally:
            connection.execute(f"DROP DATABASE {name} WITH (FORCE)")


Way = Callable[[Path, str], float]


def turns(source: Path, where: Callable, ways: tuple[Way, ...], least: Way) -> None:
    """Take turns and print the ratios to one of the ways."""
    seconds: dict[Way, list[float]] = {way: [] for way in ways}
    for _ in range(TURNS):
        for way in ways:
            with where() as url:
                seconds[way].append(way(source, url))
    for way, taken in seconds.items():
        ratios = (one / base for one, base in zip(taken, seconds[least], strict=True))
        print(f"{way.__name__:12} {median(taken):6.2f} s  {median(ratios):5.2f} {least.__name__}")


def main() -> None:
    """Measure on both databases."""
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    with tempfile.TemporaryDirectory() as folder:
        source = Path(folder) / "reports.csv"
        write_reports(source, rows)
        turns(source, on_sqlite, (ours, over_http, same_tables, bare_table), same_tables)
        with nullcontext(sys.argv[2]) if len(sys.argv) > 2 else server() as address:
            turns(source, partial(on_postgresql, address), (ours, over_http, copied), copied)


if __name__ == "__main__":
    main()
