"""Many people for a long time: nothing is lost, nobody waits long, memory stays where it was.

Writers report socks and correct them, readers list, read and ask for suggestions, and once a minute
the group is calibrated. Everybody pauses between requests as people and their programs do (drawn,
exponential): `PAUSE_S` on average, so that the load is what it is and not what the server can bear.
"""

from __future__ import annotations

import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from random import Random

from faults import group, ledger
from faults.claims import Claim, below, none, progress
from faults.client import Answer, Client
from faults.group import Group
from faults.imports import imported
from faults.served import served
from faults.setting import Setting

WRITERS = 50
READERS = 200
PAUSE_S = 4.0
CALIBRATION_EVERY_S = 60
WRITE_P95_MS = 250
GROWTH_MB = 50
WARM_UP_S = 60
"""Memory is flat if it does not grow from here on: caches and connections are then filled."""


@dataclass
class Seen:
    """What all people saw together."""

    statuses: Counter[int] = field(default_factory=Counter)
    writes: list[float] = field(default_factory=list)
    reads: list[float] = field(default_factory=list)
    calibrations: list[float] = field(default_factory=list)
    broken: list[str] = field(default_factory=list)
    with_workers_mb: float = 0.0


@dataclass(frozen=True)
class Crowd:
    """Everybody who asks, until it is over."""

    where: Group
    book: ledger.Ledger
    seen: Seen
    over: threading.Event

    def write(self, client: Client, draw: Random, mark: str) -> None:
        """Report a sock, and say of every third that it was worn."""
        self.book.sent(mark, (1, 0))
        path = f"{self.where.path}/reports"
        length = draw.uniform(220, 290)
        foot = {"foot_length_mm": length, "foot_circumference_mm": 0.75 * length + 46}
        given = group.report(mark, foot=foot, fit_score=draw.randint(-2, 2))
        answer = self.timed(self.seen.writes, client, "POST", path, given, Idempotency_Key=mark)
        if answer.status != 201:
            return
        self.book.acknowledged(mark, (1, 0))
        if draw.random() < 1 / 3:
            self.book.sent(mark, (1, 1))
            etag, address = answer.headers["ETag"], answer.headers["Location"]
            worn = {"times_worn": 1}
            answer = self.timed(self.seen.writes, client, "PATCH", address, worn, If_Match=etag)
            if answer.status == 200:
                self.book.acknowledged(mark, (1, 1))

    def read(self, client: Client, draw: Random, _mark: str) -> None:
        """List, or ask for a suggestion, which is kept and therefore a write."""
        if draw.random() < 0.1:
            path = f"{self.where.path}/suggestions"
            self.timed(self.seen.writes, client, "POST", path, group.QUESTION)
        else:
            place = draw.choice(("/reports", "/feet", "/calibrations", ""))
            self.timed(self.seen.reads, client, "GET", self.where.path + place)

    def calibrate(self, client: Client, _draw: Random, _mark: str) -> None:
        """Calibrate, and wait until it is time for the next."""
        path = f"{self.where.path}/calibrations"
        self.timed(self.seen.calibrations, client, "POST", path, {})
        client.close()  # the server would, for it says nothing for a minute
        self.over.wait(CALIBRATION_EVERY_S)

    def timed(self, times: list[float], client: Client, *asked: object, **headers: str) -> Answer:
        """Ask, and note how long it took and how it went."""
        start = time.perf_counter()
        answer = client.ask(*asked, **headers)  # type: ignore[arg-type]
        times.append(time.perf_counter() - start)
        self.seen.statuses[answer.status] += 1
        return answer


def run(setting: Setting) -> Iterator[Claim]:
    """Let them all in, look at memory, and count afterwards."""
    seconds = setting.amount(30 * 60, 8)
    with served(setting.url) as server:
        where = group.found(server)
        imported(setting, where.id, "before", 600)
        crowd = Crowd(where, ledger.Ledger(), Seen(), threading.Event())
        crowd.book.acknowledged("before", (3000, 0))
        people = [*_people(crowd, setting)]
        for person in people:
            person.start()
        memory = _watch(crowd, seconds)
        for person in people:
            person.join()
        yield from _claims(crowd, memory, seconds)
        yield none("lost, doubled or half there", crowd.book.wrong(setting.url))
        yield none("torn", [*ledger.torn(setting.url)])
        yield none("errors logged", server.logged().count("Traceback"))


def _people(crowd: Crowd, setting: Setting) -> Iterator[threading.Thread]:
    share = 10 if setting.short else 1
    jobs = [
        *[crowd.write] * (WRITERS // share),
        *[crowd.read] * (READERS // share),
        crowd.calibrate,
    ]
    for number, act in enumerate(jobs):
        draw = setting.draw(f"person {number}")
        yield threading.Thread(target=_live, args=(crowd, act, draw, number))


def _live(
    crowd: Crowd, act: Callable[[Client, Random, str], None], draw: Random, number: int
) -> None:
    client = crowd.where.client()
    turn = 0
    while not crowd.over.wait(draw.expovariate(1 / PAUSE_S)):
        try:
            act(client, draw, f"{number}-{turn}")
        except Exception as error:  # noqa: BLE001 -- a claim says that there was none
            crowd.seen.broken.append(repr(error))
        turn += 1
    client.close()


def _watch(crowd: Crowd, seconds: float) -> list[float]:
    """Return the server's memory, MB, every few seconds until it is over."""
    began, memory, told = time.monotonic(), [], 0
    while (passed := time.monotonic() - began) < seconds:
        memory.append(crowd.where.server.memory_mb())
        now_mb = crowd.where.server.memory_of_all_mb()
        crowd.seen.with_workers_mb = max(crowd.seen.with_workers_mb, now_mb)
        asked, writes = crowd.seen.statuses.total(), sorted(crowd.seen.writes[told:])
        told += len(writes)
        slow = f", 95 % of writes {_at(writes, 0.95):.0f} ms" if writes else ""
        progress(f"{passed:.0f} s: {asked} answers, {memory[-1]:.0f} MB{slow}")
        time.sleep(min(10, seconds / 4))
    crowd.over.set()
    return memory


def _claims(crowd: Crowd, memory: list[float], seconds: float) -> Iterator[Claim]:
    seen, many = crowd.seen, crowd.seen.statuses
    rate = many.total() / seconds
    yield Claim("answers", f"{many.total()} ({rate:.0f} a second): {dict(many)}", bool(many))
    yield none("server errors", sum(n for status, n in many.items() if status >= 500))
    yield none("connections broken", seen.broken)
    yield below("95 % of writes", _at(sorted(seen.writes), 0.95), WRITE_P95_MS, "ms")
    for name, times in (("writes", seen.writes), ("reads", seen.reads)):
        told = [f"{_at(sorted(times), share):.0f}" for share in (0.5, 0.95, 0.99)]
        yield Claim(f"{name}: {len(times)}; 50, 95, 99 %", f"{', '.join(told)} ms", bool(times))
    slowest = f"{max(seen.calibrations, default=0):.1f} s"
    yield Claim(
        f"calibrations: {len(seen.calibrations)}; slowest", slowest, bool(seen.calibrations)
    )
    most = f"{seen.with_workers_mb:.0f} MB"
    yield Claim("memory with workers at its highest", most, seen.with_workers_mb > 0)
    settled = memory[int(len(memory) * min(1, WARM_UP_S / seconds)) :] or memory[-1:]
    told = f"growth after {WARM_UP_S} s (from {settled[0]:.0f} MB)"
    yield below(told, max(settled) - settled[0], GROWTH_MB, "MB")


def _at(ordered: list[float], share: float) -> float:
    """Return within how many ms a share of times in s lies."""
    return ordered[int(share * len(ordered))] * 1000
