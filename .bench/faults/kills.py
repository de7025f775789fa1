"""The server is killed while people write: what was acknowledged stays.

In each round several people write through HTTP until the server is killed at a drawn moment. After
each the database is looked into: everything that was
acknowledged must be there, everything else wholly or not at all; the server must be back soon, and
what was never answered must be done once when it is sent again with its key.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from itertools import count

from faults import group, ledger
from faults.claims import Claim, below, none, progress
from faults.client import BROKEN, Client
from faults.group import Group
from faults.served import served
from faults.setting import Setting

WRITERS = 6
LONGEST_S = 0.6
"""People write for up to so long before the kill."""
RESTART_S = 5.0

Write = Callable[[Client, Group, ledger.Ledger, str], None]


def report_and_wear(client: Client, where: Group, book: ledger.Ledger, mark: str) -> None:
    """Report a sock, its mark being the key, and say that it was worn once, unless it says so."""
    book.sent(mark, (1, 0))
    path = f"{where.path}/reports"
    made = client.ask("POST", path, group.report(mark), Idempotency_Key=mark)
    _require(made.status, 201)
    book.acknowledged(mark, (1, 0))
    read = client.ask("GET", made.headers["Location"])
    if read.body["times_worn"] is None:
        book.sent(mark, (1, 1))
        etag, worn = read.headers["ETag"], {"times_worn": 1}
        _require(client.ask("PATCH", made.headers["Location"], worn, If_Match=etag).status, 200)
    book.acknowledged(mark, (1, 1))


WRITES: dict[str, Write] = {"report": report_and_wear}
"""What people do until the server is killed, and again until it is answered."""


def run(setting: Setting) -> Iterator[Claim]:
    """Kill, look, start again."""
    rounds = setting.amount(200, 4)
    book, restarts, wrong = ledger.Ledger(), [], []
    with served(setting.url) as server:
        where = group.found(server)
        draw = setting.draw("moments")
        for turn in range(rounds):
            _write_until_killed(where, book, turn, draw.uniform(0, LONGEST_S))
            wrong += book.wrong(setting.url) + list(ledger.torn(setting.url))
            restarts.append(server.start())
            _again(where, book)
            wrong += book.wrong(setting.url)
            progress(
                f"kill {turn + 1} of {rounds}: {len(book.possible)} reports, {len(wrong)} wrong"
            )
    yield Claim("the server was killed while people wrote", f"{rounds} times", rounds > 0)
    yield Claim("acknowledged reports", len(book.possible), len(book.possible) >= rounds)
    yield none("lost, half there or there twice", wrong)
    yield below("slowest restart", max(restarts), RESTART_S, "s")


def _write_until_killed(where: Group, book: ledger.Ledger, turn: int, seconds: float) -> None:
    with ThreadPoolExecutor(WRITERS) as people:
        for person in range(WRITERS):
            people.submit(_keep_writing, where, book, f"{turn}-{person}")
        time.sleep(seconds)
        where.server.kill()


def _keep_writing(where: Group, book: ledger.Ledger, prefix: str) -> None:
    client = where.client()
    try:
        for number in count():
            for name, write in WRITES.items():
                write(client, where, book, f"{prefix}-{number}-{name}")
    except BROKEN:
        client.close()


def _again(where: Group, book: ledger.Ledger) -> None:
    """Send again, with the same key, what was never answered, until nothing is open."""
    client = where.client()
    for mark in book.open():
        WRITES[mark.rsplit("-", 1)[1]](client, where, book, mark)
    client.close()


def _require(status: int, wanted: int) -> None:
    if status != wanted:
        raise RuntimeError(f"{status} instead of {wanted}")
