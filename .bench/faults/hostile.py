"""Bodies and files that are made to hurt: all are answered, none breaks anything or fills memory.

Every field of a body that would be taken gets each hostile value in turn; so does every cell of a
size table and of a file of reports, taken in at once, as a dry run, and as a job. Nothing may be
answered by 500 or not at all, no job may break, and the memory of the server and its workers may at
no time be much more than before.
"""

from __future__ import annotations

import http.client
import re
import time
from collections import Counter
from collections.abc import Iterator
from threading import Event, Thread
from typing import Any, NamedTuple

from faults import corpus, group
from faults.claims import Claim, below, none, progress
from faults.client import BROKEN, HOST, Client
from faults.group import Group
from faults.served import Served, served
from faults.setting import Setting

MOST_MB = 100
HUGE = 200_000_000
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
JSON, CSV = "application/json", "text/csv"
SIZE = {
    "label": "S", "foot_length_low_mm": 230, "foot_length_high_mm": 250,
    "foot_circumference_low_mm": 215, "foot_circumference_high_mm": 235, "yarn_weight": 1,
    "stitches_per_10cm": 30, "rounds_per_10cm": 42, "heel_stitches": 60, "closing_stitches": 16,
    "medium_decrease_rounds": 4, "plain_rounds": 3, "slow_decrease_rounds": 3,
}  # fmt: skip

IMPORTS = ("", "?dry_run=true", "?keep_good=true", "?keep_good=true&dry_run=true")
ASYNC = "respond-async"
PATIENCE = 600
SECONDS_BETWEEN_LOOKS = 0.1
SECONDS_TO_SETTLE = 2
"""Workers that have done their job are gone then."""


class Sent(NamedTuple):
    """One thing to send; `prefer` asks for a job."""

    method: str
    path: str
    media: str
    body: bytes
    prefer: str = "wait=60"

    def __str__(self) -> str:
        query = self.path.rpartition("/")[2]
        return f"{self.method} {query} ({self.media}, {self.prefer}) {self.body[:80]!r}"


def run(setting: Setting) -> Iterator[Claim]:
    """Send them all, then something of 200 MB, and look at memory."""
    with served(setting.url) as server:
        where = group.found(server)
        client, seen, wrong = where.client(), Counter[int](), []
        sent = list(_sent(where, client))
        client = where.client()  # that one may have been idle for too long
        chosen = _few(setting, sent) if setting.short else sent
        _warm_up(where, client)
        time.sleep(SECONDS_TO_SETTLE)
        watch = _Memory(server)
        for number, one in enumerate(chosen):
            status = _status(client, one)
            seen[status] += 1
            wrong += [f"{status} for {one}"] * (status == 0 or status >= 500)
            if number % 200 == 0:
                progress(f"{number} of {len(chosen)}: {dict(seen)}, {server.memory_mb():.0f} MB")
        huge = HUGE // (20 if setting.short else 1)
        refused = _huge(where, huge)
        grown = watch.grown_mb()
        yield Claim(f"sent {len(chosen)}; answers", dict(seen), seen.total() == len(chosen))
        yield none("server errors, or no answer", wrong)
        yield Claim(f"{huge / 1e6:g} MB", refused, refused in (413, "hung up"))
        yield below("memory at its highest, over before", grown, MOST_MB, "MB")
        yield Claim("answers afterwards", "200", client.ask("GET", where.path).status == 200)
        yield none("errors logged", re.findall(r".*(?:ERROR|Error).*", server.logged()))


def _few(setting: Setting, sent: list[Sent]) -> list[Sent]:
    """Return some of each way in, without those that take seconds."""
    light = [one for one in sent if one.prefer != ASYNC and len(one.body) < corpus.LONG]
    return setting.draw("corpus").sample(light, 150)


def _sent(where: Group, client: Client) -> Iterator[Sent]:
    """Yield everything hostile; another way in, another entry."""
    made = client.made(f"{where.path}/designs", {"name": "Invented design"})
    design = f"{where.path}/designs/{made['id']}"
    samples = {
        "/reports": group.report("invented", reporter="Invented reporter"),
        "/feet": {**group.FOOT, "label": "left", "measured_on": "2026-01-01"},
        "/suggestions": group.QUESTION,
        "/designs": {"name": "Invented"},
        "/invitations": {"role": "designer", "uses": 2, "days": 3},
        f"/designs/{made['id']}/sizes": SIZE,
    }
    for path, sample in samples.items():
        for body in corpus.bodies(sample):
            yield Sent("POST", where.path + path, JSON, body)
    for body in corpus.bodies({"heel_stitches": 64, **group.SOCK, "foot": group.FOOT}):
        yield Sent("POST", "/v1/schedules", JSON, body)
    report = client.made(f"{where.path}/reports", group.report("invented"))
    for body in corpus.bodies({**group.SOCK, "notes": "invented", "knitted_on": "2026-01-01"}):
        yield Sent("PATCH", f"{where.path}/reports/{report['id']}", JSON, body)
    for body in corpus.tables(f"{','.join(SIZE)}\n{','.join(map(str, SIZE.values()))}"):
        yield Sent("POST", f"{design}/size-table", CSV, body)
    for body in corpus.workbooks():
        yield Sent("POST", f"{design}/size-table", XLSX, body)
    yield from _files(f"{where.path}/imports")


def _files(path: str) -> Iterator[Sent]:
    """Yield hostile files of reports: every way of taking them in, the largest as jobs."""
    row = group.csv("invented", 1).strip()
    for number, body in enumerate(corpus.tables(row)):
        yield Sent("POST", path + IMPORTS[number % len(IMPORTS)], CSV, body)
    for body in corpus.workbooks():
        yield from (Sent("POST", path + query, XLSX, body) for query in IMPORTS)
        yield Sent("POST", f"{path}?keep_good=true", XLSX, body, ASYNC)
    for body in corpus.large_workbooks(row):
        yield Sent("POST", f"{path}?dry_run=true", XLSX, body)
        yield Sent("POST", f"{path}?keep_good=true", XLSX, body, ASYNC)
    for body in corpus.large_tables(row):
        yield Sent("POST", f"{path}?keep_good=true&dry_run=true", CSV, body, ASYNC)


def _status(client: Client, one: Sent) -> int:
    """Return how something, or the job that was made of it, was answered, 0 where it was not."""
    headers = {"Content_Type": one.media, "Prefer": one.prefer, "If_Match": "*"}
    try:
        answer = client.ask(one.method, one.path, one.body, **headers)
        if answer.status != 202:
            return answer.status
        job = _ended(client, answer.headers["Location"])
    except BROKEN:
        return 0
    return int((job["problem"] or {"status": 200})["status"])


def _ended(client: Client, location: str) -> Any:
    """Return a job once it has ended, and take it for unanswered where it does not."""
    patience = time.monotonic() + PATIENCE
    while time.monotonic() < patience:
        job = client.ask("GET", location).body
        if job["ended_at"] is not None:
            return job
        time.sleep(0.02)
    raise TimeoutError


def _warm_up(where: Group, client: Client) -> None:
    """Use once what is loaded when it is first needed."""
    for number in range(20):
        client.made(f"{where.path}/reports", group.report(f"warm {number}"))
    client.ask("POST", f"{where.path}/calibrations", {})
    row = group.csv("warm", 1)
    book = corpus.workbook([line.split(",") for line in row.splitlines()])
    for prefer in ("wait=60", ASYNC):
        for media, body in ((CSV, row.encode()), (XLSX, book)):
            _status(client, Sent("POST", f"{where.path}/imports", media, body, prefer))
    client.ask("POST", f"{where.path}/suggestions", group.QUESTION)


def _huge(where: Group, size: int) -> int | str:
    """Send a body of very many bytes, piece by piece, and return how it was answered."""
    connection = http.client.HTTPConnection(HOST, where.server.port, timeout=120)
    connection.putrequest("POST", f"{where.path}/reports")
    for name, value in {
        "Authorization": f"Bearer {where.token}",
        "Content-Type": JSON,
        "Content-Length": str(size),
    }.items():
        connection.putheader(name, value)
    try:
        connection.endheaders()
        for _ in range(size // 100_000):
            connection.send(b" " * 100_000)
        return connection.getresponse().status
    except BROKEN:
        return "hung up"
    finally:
        connection.close()


class _Memory:
    """Looks from now on how much memory a server and its workers have in use."""

    def __init__(self, server: Served) -> None:
        self._server, self._over = server, Event()
        self._before = self._most = server.memory_of_all_mb()
        self._looking = Thread(target=self._look, daemon=True)
        self._looking.start()

    def grown_mb(self) -> float:
        """Look no more, and return by how much it was above what it had been at first."""
        self._over.set()
        self._looking.join()
        return self._most - self._before

    def _look(self) -> None:
        while not self._over.wait(SECONDS_BETWEEN_LOOKS):
            self._most = max(self._most, self._server.memory_of_all_mb())
