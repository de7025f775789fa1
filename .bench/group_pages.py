"""How much dearer are a group's pages than the JSON they show? Run: python .bench/group_pages.py.

One server (waitress, on the loopback), one client that asks in turn over one kept-alive
connection: a page of somebody who is logged in, then every JSON answer that the page shows. The
ratio of each pair is what counts; the milliseconds only describe the machine.

`python .bench/group_pages.py outcomes` says instead what the outcomes of the calibration that
answers take, with 1,000, 10,000 and 100,000 reports since: milliseconds of this process's work on
SQLite the first time and again, the median of five, and the memory at the peak above what it had.
"""

from __future__ import annotations

import http.client
import json
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from http.cookies import SimpleCookie
from pathlib import Path

from pages import MOST, seconds
from suggestion import OURS, found_group, post, served

PAIRS = 150
WARM_UP = 15
ACCOUNT = {"username": "bench.one", "password": "four invented quiet words"}


def got(connection: http.client.HTTPConnection, path: str, headers: dict) -> bytes:
    """Return what is at a path."""
    connection.request("GET", path, headers=headers)
    answer = connection.getresponse()
    content = answer.read()
    if answer.status != 200:
        raise SystemExit(f"{path}: {answer.status}")
    return content


def logged_in(connection: http.client.HTTPConnection) -> dict:
    """Return the header of somebody's browser after logging in."""
    connection.request(
        "POST", "/v1/sessions", json.dumps(ACCOUNT), {"Content-Type": "application/json"}
    )
    answer = connection.getresponse()
    answer.read()
    cookies = SimpleCookie(answer.headers["Set-Cookie"])
    return {"Cookie": "; ".join(f"{name}={one.value}" for name, one in cookies.items())}


def founded(connection: http.client.HTTPConnection) -> tuple[dict, str, str, str]:
    """Return a steward's header, and ids of a group that has learned, a design, a calibration."""
    from seed_demo import design, people

    group, known = found_group(connection)
    post(connection, "/v1/accounts", json.dumps(ACCOUNT), known)
    for number, report in enumerate(people.reports()):
        own = {name: value for name, value in report.items() if name != "reporter"}
        post(connection, f"{group}/reports", json.dumps(report if number % 20 else own), known)
    calibration = post(connection, f"{group}/calibrations", "{}", known)["id"]
    post(connection, f"{group}/calibrations/{calibration}/activation", "{}", known)
    body = json.dumps({"name": design.NAME})
    made_design = post(connection, f"{group}/designs", body, known)["id"]
    for size in design.sizes():
        post(connection, f"{group}/designs/{made_design}/sizes", json.dumps(size), known)
    return known, group.rpartition("/")[2], str(made_design), str(calibration)


def compare(name: str, page: Callable[[], object], shown: Sequence[Callable[[], object]]) -> None:
    """Print medians and the ratio of a page to all the JSON answers that it shows."""
    rounds = [
        (seconds(page), seconds(lambda: [act() for act in shown])) for _ in range(WARM_UP + PAIRS)
    ][WARM_UP:]
    a, b = (statistics.median(column) * 1000 for column in zip(*rounds, strict=True))
    ratio = statistics.median(x / y for x, y in rounds)
    verdict = "within" if ratio <= MOST else "above"
    print(f"{name}: page {a:.1f} ms, its JSON {b:.1f} ms; ratio {ratio:.2f}, {verdict} {MOST:g}")


def outcomes() -> None:
    """Print what the outcomes take, by the reports that came since."""
    from blocks import add, fill, peak_mib

    from migrations.runner import upgrade
    from models.actions.actor import operator
    from models.actions.calibrations import keep_calibration
    from models.actions.judging import calibrated
    from models.actions.tracking import outcomes as told
    from models.tables.engine import Database

    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'bench.db'}"
        upgrade(url)
        database = Database(url)
        actor = operator(fill(database, 1000))
        with database.write.begin() as session:
            made = keep_calibration(session, actor, calibrated(session, actor))
        before, there = peak_mib(), 0

        def asked() -> float:
            start = time.process_time()
            with database.read() as session:
                told(session, actor, made.id)
            return (time.process_time() - start) * 1000

        for batch, reports in enumerate((1_000, 10_000, 100_000), 10):
            add(database, actor.group_id, reports - there, begin=10 * batch)
            there = reports
            first, again = asked(), statistics.median(asked() for _ in range(5))
            took = f"{first:.0f} ms, again {again:.0f} ms"
            print(f"{reports} since: {took}; {peak_mib() - before:.0f} MiB", flush=True)


def main() -> None:
    """Compare Learn and a design's page with the answers they show."""
    from migrations.runner import upgrade
    from seed_demo.people import QUESTION

    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'bench.db'}"
        upgrade(url)
        with served(OURS, url) as ours:
            known, group, design, calibration = founded(ours)
            browser, api = logged_in(ours), f"/v1/groups/{group}"

            def told(path: str) -> Callable[[], object]:
                return lambda: json.loads(got(ours, f"{api}{path}", known))

            def asked() -> object:
                return post(ours, f"{api}/suggestions", json.dumps(QUESTION), known)

            card = f"/calibrations/{calibration}"
            learn = [told(f"{card}/card"), told(f"{card}/outcomes"), told("/calibrations"), asked]
            compare("learn", lambda: got(ours, f"/groups/{group}/learn", browser), learn)
            path = f"/designs/{design}"
            parts = [told(f"{path}{part}") for part in ("/defaults", "/adoptions", "/effects")]
            compare("design", lambda: got(ours, f"/groups/{group}{path}", browser), parts)


if __name__ == "__main__":
    outcomes() if sys.argv[1:] == ["outcomes"] else main()
