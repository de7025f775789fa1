"""Many people change the same reports at once, and send the same request many times at once.

Each edit reads a report, adds one to how often it was worn and sends that with `If-Match`; a 412
sends its writer back to reading. In the end every report must count exactly the edits that were
acknowledged. Then many POSTs go out at the same moment with one `Idempotency-Key`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from random import Random
from threading import Barrier

from faults import group, ledger
from faults.claims import Claim, none, progress
from faults.client import Client
from faults.group import Group
from faults.served import served
from faults.setting import Setting

WRITERS = 8
EDITS = 100
OBJECTS = 5
AT_ONCE = 50
KEYS = 20


def run(setting: Setting) -> Iterator[Claim]:
    """Edit, then send the same again and again."""
    with served(setting.url) as server:
        where = group.found(server)
        yield from _edits(where, setting)
        yield from _same_key(where, setting)


def _edits(where: Group, setting: Setting) -> Iterator[Claim]:
    first = where.client()
    marks = [f"shared {number}" for number in range(OBJECTS)]
    paths = {m: first.ask("POST", f"{where.path}/reports", group.report(m)) for m in marks}
    addresses = {mark: answer.headers["Location"] for mark, answer in paths.items()}
    each = setting.amount(EDITS, 5)
    with ThreadPoolExecutor(WRITERS) as people:
        found = list(
            people.map(
                lambda n: _edit(where.client(), addresses, each, setting.draw(f"writer {n}")),
                range(WRITERS),
            )
        )
    done: Counter[str] = sum((acknowledged for acknowledged, _ in found), Counter())
    held = ledger.held(setting.url)
    progress(f"{done.total()} edits acknowledged, {sum(again for _, again in found)} times 412")
    yield Claim("edits acknowledged", done.total(), done.total() == WRITERS * each)
    again = sum(again for _, again in found)
    yield Claim("edits that met somebody else's (412)", again, again > 0 or setting.short)
    yield none(
        "reports that do not count the acknowledged edits",
        [
            f"{mark}: {held[mark]}, not {done[mark]}"
            for mark in marks
            if held[mark] != (1, done[mark])
        ],
    )


def _edit(
    client: Client, addresses: dict[str, str], times: int, draw: Random
) -> tuple[Counter[str], int]:
    """Return how many edits of each report were acknowledged, and how many came too late."""
    acknowledged: Counter[str] = Counter()
    late = 0
    while acknowledged.total() < times:
        mark = draw.choice(list(addresses))
        read = client.ask("GET", addresses[mark])
        worn = (read.body["times_worn"] or 0) + 1
        etag = read.headers["ETag"]
        answer = client.ask("PATCH", addresses[mark], {"times_worn": worn}, If_Match=etag)
        if answer.status not in (200, 412):
            raise RuntimeError(f"PATCH: {answer.status} {answer.content.decode()}")
        acknowledged[mark] += answer.status == 200
        late += answer.status == 412
    client.close()
    return acknowledged, late


def _same_key(where: Group, setting: Setting) -> Iterator[Claim]:
    keys = [f"key {number}" for number in range(setting.amount(KEYS, 2))]
    answers = {key: _at_once(where, key) for key in keys}
    held = ledger.held(setting.url)
    yield none(
        f"keys of {AT_ONCE} requests at once, not 201 {AT_ONCE} times with one answer",
        [key for key, found in answers.items() if len(set(found)) != 1 or found[0][0] != 201],
    )
    yield none("keys with more or fewer than one row", [k for k in keys if held.get(k) != (1, 0)])


def _at_once(where: Group, key: str) -> list[tuple[int, bytes]]:
    together = Barrier(AT_ONCE)

    def send(_: int) -> tuple[int, bytes]:
        client = where.client()
        together.wait()
        path = f"{where.path}/reports"
        answer = client.ask("POST", path, group.report(key), Idempotency_Key=key)
        client.close()
        return answer.status, answer.content

    with ThreadPoolExecutor(AT_ONCE) as people:
        found = list(people.map(send, range(AT_ONCE)))
    progress(f"{key}: {Counter(status for status, _ in found)}")
    return found
