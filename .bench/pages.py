"""How much dearer is the answer page than the JSON it shows? Run: python .bench/pages.py.

One server (waitress, on the loopback), one client that asks in turn over one kept-alive
connection: the page, then the two JSON answers that it shows (suggestion and schedule). The ratio
of each pair is what counts; the milliseconds only describe the machine.
"""

from __future__ import annotations

import http.client
import json
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from suggestion import OURS, found_group, post, served

PAIRS = 500
WARM_UP = 50
MOST = 3.0


def seconds(act: Callable[[], object]) -> float:
    """Return how long something takes."""
    start = time.perf_counter()
    act()
    return time.perf_counter() - start


def page(connection: http.client.HTTPConnection, cookie: str) -> bytes:
    """Return the answer page of somebody whose entries are in a cookie."""
    connection.request("GET", "/ask/answer", headers={"Cookie": cookie})
    answer = connection.getresponse()
    content = answer.read()
    if answer.status != 200:
        raise SystemExit(f"/ask/answer: {answer.status}")
    return content


def typed() -> str:
    """Return the demo's question as the cookie of somebody who typed it."""
    from seed_demo.people import QUESTION
    from service.pages.kept import COOKIE, Kept

    kept = Kept()
    for name, value in QUESTION["foot"].items():
        kept = kept.having(name, f"{value / 10:g}", "cm")
    for name, value in QUESTION.items():
        if name != "foot":
            kept = kept.having(name, str(value))
    return f"{COOKIE}={kept.dump()}"


def main() -> None:
    """Compare, with a group that has no reports: geometry answers both."""
    from migrations.runner import upgrade
    from seed_demo.people import QUESTION

    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'bench.db'}"
        upgrade(url)
        with served(OURS, url) as ours:
            group, known = found_group(ours)
            path, question = f"{group}/suggestions", json.dumps(QUESTION)

            def told() -> None:
                schedule = post(ours, path, question, known)["schedule"]
                post(ours, "/v1/schedules", json.dumps(schedule), {})

            compare(lambda: page(ours, typed()), told, lambda: post(ours, path, question, known))


def compare(*acts: Callable[[], object]) -> None:
    """Print medians and ratios of the first to each of the others."""
    rounds = [[seconds(act) for act in acts] for _ in range(WARM_UP + PAIRS)][WARM_UP:]
    shown, both, one = zip(*rounds, strict=True)
    a, b, c = (statistics.median(column) * 1000 for column in (shown, both, one))
    print(f"page {a:.2f} ms, suggestion and schedule {b:.2f} ms, suggestion alone {c:.2f} ms")
    for name, column in (("both", both), ("suggestion alone", one)):
        ratio = statistics.median(x / y for x, y in zip(shown, column, strict=True))
        print(f"page to {name}: {ratio:.2f}, {'within' if ratio <= MOST else 'above'} {MOST:g}")


if __name__ == "__main__":
    main()
