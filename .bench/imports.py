"""How much dearer is an import than csv.reader + executemany? Run: python .bench/imports.py [ROWS].

Three ways in, in turn, each into a fresh SQLite file opened the same way: ours with all its checks;
csv.reader + sqlite3.executemany of the same rows into the same tables; and the same into one bare
table without keys, checks or references, which cannot serve but is the least a file can cost.
Ratios of each turn count; seconds only describe the machine.
"""

from __future__ import annotations

import csv
import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

import numpy as np

from migrations.runner import upgrade
from models.actions.actor import operator
from models.actions.groups import create_group
from models.actions.import_reports import import_reports
from models.domain.anthropometry import regression
from models.domain.foot import MEASUREMENT_NAMES
from models.domain.reports import REQUIRED_COLUMNS
from models.tables.base import new_id
from models.tables.engine import BUSY_TIMEOUT_MS, CACHE_KIB, Database

TURNS = 5
REPORTERS = 500
FEET_EACH = 3
SOCK = REQUIRED_COLUMNS[5:]


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
        writer.writerow(REQUIRED_COLUMNS)
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


def bare_table(source: Path, target: Path) -> float:
    """Return the seconds of the least there is."""
    connection = raw_connection(target)
    connection.execute(f"CREATE TABLE r ({', '.join(REQUIRED_COLUMNS)})")
    marks = ", ".join("?" * len(REQUIRED_COLUMNS))
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


def same_tables(source: Path, target: Path) -> float:
    """Return the seconds of csv.reader + executemany into the tables of the service, unchecked."""
    group, moment = prepared(target), "2026-11-25 12:00:00.000000"
    connection = raw_connection(target)
    start = time.perf_counter()
    members: dict[str, str] = {}
    feet: dict[tuple[str, ...], str] = {}
    reports = []
    with source.open(newline="") as file:
        rows = csv.reader(file)
        next(rows)
        for row in rows:
            member = members.setdefault(row[0], new_id())
            foot = feet.setdefault((member, *row[1:5]), new_id())
            reports.append((new_id(), group, member, foot, *row[5:], 4, 1, moment, moment))
    connection.execute("BEGIN IMMEDIATE")
    connection.executemany(
        "INSERT INTO members (id, group_id, name, role, joined_at) VALUES (?, ?, ?, 'knitter', ?)",
        [(member, group, name, moment) for name, member in members.items()],
    )
    connection.executemany(
        f"INSERT INTO feet (id, group_id, member_id, {', '.join(MEASUREMENT_NAMES)}, created_at) "
        "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        [(foot, group, k[0], *(v or None for v in k[1:]), moment) for k, foot in feet.items()],
    )
    connection.executemany(
        f"INSERT INTO reports (id, group_id, member_id, foot_id, {', '.join(SOCK)}, "
        "decreases_per_round, version, created_at, updated_at) "
        f"VALUES ({', '.join('?' * (4 + len(SOCK) + 4))})",
        reports,
    )
    connection.execute("COMMIT")
    seconds = time.perf_counter() - start
    connection.close()
    return seconds


def ours(source: Path, target: Path) -> float:
    """Return the seconds of our import, checks and all."""
    group = prepared(target)
    database = Database(f"sqlite:///{target}")
    start = time.perf_counter()
    with database.write.begin() as session:
        import_reports(session, operator(group), source)
    seconds = time.perf_counter() - start
    database.close()
    return seconds


def prepared(target: Path) -> str:
    """Return the group of a fresh, upgraded database."""
    upgrade(f"sqlite:///{target}")
    database = Database(f"sqlite:///{target}")
    with database.write.begin() as session:
        group, _ = create_group(session, "Invented", "Invented steward")
    database.close()
    return group.id


def main() -> None:
    """Take turns and print the ratios."""
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    ways: tuple[Callable[[Path, Path], float], ...] = (ours, same_tables, bare_table)
    with tempfile.TemporaryDirectory() as folder:
        source = Path(folder) / "reports.csv"
        write_reports(source, rows)
        turns = [
            [way(source, Path(folder) / f"{way.__name__}{turn}.db") for way in ways]
            for turn in range(TURNS)
        ]
    for way, column in zip(ways, zip(*turns, strict=True), strict=True):
        print(f"{way.__name__:12} {median(column):.2f} s")
    print(f"ours / same tables: {median(t[0] / t[1] for t in turns):.2f}")
    print(f"ours / bare table:  {median(t[0] / t[2] for t in turns):.2f}")


if __name__ == "__main__":
    main()
