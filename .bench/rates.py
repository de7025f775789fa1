"""Reports in and out against the least that could serve them. Run: python .bench/rates.py.

Servers of the same kind (waitress, one process each, on the loopback, the same SQLite settings),
one client that asks them in turn over kept-alive connections: A B A B ... A report sent is compared
with a minimal Flask + SQLAlchemy insert of one such row; a list of 50 reports with the same plain
columns through orjson, and neither of these knows people, checks or errors. The median ratio of
the pairs counts, as a share of the bare rate; the milliseconds only describe the machine. Last, how
far the slowest suggestions are from the usual one while four people ask as fast as they can.
"""

from __future__ import annotations

import argparse
import http.client
import json
import shutil
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from suggestion import OURS, found_group, post, served

LISTED = 50
AT_ONCE = 4
WANTED = 0.6
SPREAD = 5.0

BARE = """
import sys, flask, orjson, waitress.server
from sqlalchemy import select
from models.tables.base import new_id
from models.tables.engine import Database
from models.tables.socks import Report
from models.actions.reports import PLAIN_FIELDS

app = flask.Flask("bare")
database = Database(sys.argv[1], connections=8)
columns = [Report.id, Report.version, Report.foot_id, Report.suggestion_id]
columns += [getattr(Report, name) for name in PLAIN_FIELDS]
columns += [Report.status, Report.created_at, Report.updated_at]

@app.post("/reports")
def add():
    given = flask.request.get_json()
    with database.write.begin() as session:
        report = Report(**given)
        session.add(report)
    return flask.jsonify(id=report.id), 201

@app.get("/reports")
def listed():
    with database.read() as session:
        query = select(*columns).order_by(Report.id).limit(50)
        rows = [dict(row) for row in session.execute(query).mappings()]
    return flask.Response(orjson.dumps({"items": rows}), mimetype="application/json")
"""


def seconds(act: Callable[[], object]) -> float:
    """Return how long something takes."""
    start = time.perf_counter()
    act()
    return time.perf_counter() - start


def get(connection: http.client.HTTPConnection, path: str, headers: dict) -> int:
    """Return how many items a list answers."""
    connection.request("GET", path, headers=headers)
    answer = connection.getresponse()
    content = answer.read()
    if answer.status != 200:
        raise SystemExit(f"{path}: {answer.status} {content.decode()}")
    return len(json.loads(content)["items"])


def compare(name: str, ours: Callable[[], object], bare: Callable[[], object], pairs: int) -> bool:
    """Take turns, print medians and the share of the bare rate, and return whether it is enough."""
    times = [(seconds(bare), seconds(ours)) for _ in range(pairs + pairs // 10)][pairs // 10 :]
    least, taken = (statistics.median(column) * 1000 for column in zip(*times, strict=True))
    share = statistics.median(b / a for b, a in times)
    print(
        f"{name}: {taken:.2f} ms, bare {least:.2f} ms (medians of {pairs} pairs), "
        f"{share:.0%} of the bare rate, wanted {WANTED:.0%}"
    )
    return share >= WANTED


def spread(port: int, path: str, question: str, known: dict, times: int) -> bool:
    """Ask from several threads, print median and 99 %, and return whether they are near."""
    taken: list[float] = []

    def ask() -> None:
        connection = http.client.HTTPConnection("127.0.0.1", port)
        taken.extend(
            [seconds(lambda: post(connection, path, question, known)) for _ in range(times)]
        )
        connection.close()

    people = [threading.Thread(target=ask) for _ in range(AT_ONCE)]
    for person in people:
        person.start()
    for person in people:
        person.join()
    taken.sort()
    usual, slow = statistics.median(taken), taken[int(0.99 * len(taken))]
    print(
        f"suggestion, {AT_ONCE} at once: median {usual * 1000:.1f} ms, 99 % {slow * 1000:.1f} ms, "
        f"{slow / usual:.1f} times, wanted below {SPREAD:g}"
    )
    return slow < SPREAD * usual


def _row(reports: str) -> dict[str, Any]:
    """Return the columns of one stored report, for the bare insert."""
    from models.actions.reports import PLAIN_FIELDS
    from models.tables.engine import Database
    from models.tables.socks import Report

    database = Database(reports)
    with database.read() as session:
        stored = session.query(Report).first()
        names = ("group_id", "member_id", "foot_id", *PLAIN_FIELDS)
        row = {name: getattr(stored, name) for name in names}
    database.close()
    return row


def main() -> None:
    """Compare in a group with the demo's reports."""
    reader = argparse.ArgumentParser(description="reports in and out against bare servers")
    reader.add_argument("--pairs", type=int, default=1000)
    pairs = reader.parse_args().pairs
    from migrations.runner import upgrade
    from seed_demo import people

    with tempfile.TemporaryDirectory() as folder:
        urls = [f"sqlite:///{Path(folder) / name}.db" for name in ("ours", "bare")]
        upgrade(urls[0])
        with served(OURS, urls[0]) as ours:
            group, known = found_group(ours)
            reports = [json.dumps(report) for report in people.reports()]
            for report in reports:
                post(ours, f"{group}/reports", report, known)
            post(ours, f"{group}/calibrations", "{}", known)
        _copy(*urls)
        row = json.dumps(_row(urls[1]))
        with served(OURS, urls[0]) as ours, served(BARE, urls[1]) as bare:
            listed = (
                lambda: _all(get(ours, f"{group}/reports?limit={LISTED}", known)),
                lambda: _all(get(bare, "/reports", {})),
            )
            sent = (
                lambda: post(ours, f"{group}/reports", reports[0], known),
                lambda: post(bare, "/reports", row, {}),
            )
            question = json.dumps(people.QUESTION)
            good = [
                compare(f"list of {LISTED} reports", *listed, pairs),
                compare("report sent", *sent, pairs),
                spread(ours.port, f"{group}/suggestions", question, known, pairs // AT_ONCE),
            ]
    sys.exit(not all(good))


def _copy(source: str, target: str) -> None:
    """Copy a database that nobody has open."""
    shutil.copyfile(source.removeprefix("sqlite:///"), target.removeprefix("sqlite:///"))


def _all(items: int) -> None:
    if items != LISTED:
        raise SystemExit(f"{items} items instead of {LISTED}")


if __name__ == "__main__":
    main()
