"""How much dearer is a suggestion than a bare Flask JSON answer? Run: python .bench/suggestion.py.

Two servers of the same kind (waitress, one process each, on the loopback), one client that asks
them in turn over kept-alive connections: A B A B ... The ratio of each pair is what counts; the
milliseconds only describe the machine.
"""

from __future__ import annotations

import http.client
import json
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

PAIRS = 2000
WARM_UP = 200
HOST = "127.0.0.1"

BARE = """
import sys, flask, waitress.server
app = flask.Flask("bare")
@app.post("/")
def answer():
    return flask.jsonify(flask.request.get_json())
"""

OURS = """
import sys, waitress.server
from service.app import create_app
from service.config import Settings
app = create_app(Settings(sys.argv[1]))
"""

SERVE = """
server = waitress.server.create_server(app, host="127.0.0.1", port=0, threads=4)
print(server.effective_port, flush=True)
server.run()
"""


@contextmanager
def served(program: str, *arguments: str) -> Iterator[http.client.HTTPConnection]:
    """Run a program that serves, and yield a connection to it."""
    command = [sys.executable, "-c", program + SERVE, *arguments]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    try:
        yield http.client.HTTPConnection(HOST, int(process.stdout.readline()))
    finally:
        process.terminate()
        process.wait()


def post(connection: http.client.HTTPConnection, path: str, body: str, headers: dict) -> dict:
    """Send JSON and return the JSON of the answer."""
    connection.request("POST", path, body, {"Content-Type": "application/json", **headers})
    answer = connection.getresponse()
    content = json.loads(answer.read())
    if answer.status >= 400:
        raise SystemExit(f"{path}: {answer.status} {content}")
    return content


def found_group(connection: http.client.HTTPConnection) -> tuple[str, dict]:
    """Return the path of a new group, and the header of its steward."""
    from models.domain.consent import VERSION

    founding = json.dumps({"name": "b", "steward": "b", "consent_version": VERSION})
    made = post(connection, "/v1/groups", founding, {})
    return f"/v1/groups/{made['id']}", {"Authorization": f"Bearer {made['token']}"}


def seconds(connection: http.client.HTTPConnection, path: str, body: str, headers: dict) -> float:
    """Return how long one POST takes."""
    start = time.perf_counter()
    post(connection, path, body, headers)
    return time.perf_counter() - start


def main() -> None:
    """Compare, with a group that has an active calibration of the demo's 150 reports."""
    from migrations.runner import upgrade
    from seed_demo import people

    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'bench.db'}"
        upgrade(url)
        with served(OURS, url) as ours, served(BARE) as bare, suppress(KeyboardInterrupt):
            group, known = found_group(ours)
            for report in people.reports():
                post(ours, f"{group}/reports", json.dumps(report), known)
            calibration = post(ours, f"{group}/calibrations", "{}", known)
            path = f"{group}/calibrations/{calibration['id']}/activation"
            post(ours, path, "{}", known)
            compare(ours, f"{group}/suggestions", known, bare)


def compare(
    ours: http.client.HTTPConnection,
    path: str,
    known: dict,
    bare: http.client.HTTPConnection,
) -> None:
    """Print medians and the ratio of pairs."""
    from seed_demo import people

    question = json.dumps(people.QUESTION)
    pairs = [
        (seconds(ours, path, question, known), seconds(bare, "/", question, {}))
        for _ in range(WARM_UP + PAIRS)
    ][WARM_UP:]
    a, b = (statistics.median(column) * 1000 for column in zip(*pairs, strict=True))
    ratios = sorted(x / y for x, y in pairs)
    print(f"suggestion {a:.2f} ms, bare JSON {b:.2f} ms (medians of {PAIRS} pairs)")
    print(
        f"ratio: median {statistics.median(ratios):.2f}, "
        f"10 % {ratios[PAIRS // 10]:.2f}, 90 % {ratios[-PAIRS // 10]:.2f}"
    )


if __name__ == "__main__":
    main()
