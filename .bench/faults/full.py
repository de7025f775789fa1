"""The disk runs full while people write: they are told, reading goes on, and it recovers by itself.

The database is put on a small file system of its own in memory (mounting one needs root), beside a
file that is taken away when the disk has been full for a while. SQLite has all its files there.
PostgreSQL has its tables there and its log elsewhere: where the disk of the log runs full it stops
by itself, and whoever keeps it has to start it again.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import time
from base64 import b64encode
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from random import Random
from uuid import uuid4

from sqlalchemy import make_url

from faults import group, ledger
from faults.claims import Claim, below, none, progress
from faults.client import Answer
from faults.databases import execute
from faults.group import Group
from faults.served import served
from faults.setting import Setting
from migrations import runner

SIZE_MB, BALLAST_MB = 14, 4
POSTGRESQL_MB = 6
"""What an empty database of PostgreSQL needs besides."""
REFUSED = (507, 503)
MOST_REPORTS = 20_000
TRIES = 20
RECOVERED_S = 5


def run(setting: Setting) -> Iterator[Claim]:
    """Fill the disk, try on, make room."""
    with _small(setting) as place, served(url := _database(setting, place)) as server:
        (place / "ballast").write_bytes(bytes(BALLAST_MB * 2**20))
        where, book = group.found(server), ledger.Ledger()
        refused = _fill(where, book, setting.draw("notes"))
        left = shutil.disk_usage(place).free
        yield Claim("reports until the disk was full", len(book.possible), refused is not None)
        yield Claim("bytes left then", left, left < 2**20)
        tried = [_send(where, book, f"tried {n}") for n in range(TRIES)]
        yield none("writes not refused as a problem 507 or 503", _not_refused([refused, *tried]))
        yield none("reads not answered meanwhile", _not_read(where))
        (place / "ballast").unlink()
        yield below("writing again after room was made", _recovers(where, book), RECOVERED_S, "s")
        yield none("lost, doubled or half there", book.wrong(url))
        yield none("torn", [*ledger.torn(url)])
        yield none("errors logged", server.logged().count("Traceback"))


@contextmanager
def _small(setting: Setting) -> Iterator[Path]:
    """Mount a small file system, and unmount it afterwards."""
    if os.geteuid() != 0:
        raise SystemExit("full: mounting a small file system needs root")
    place = setting.folder / "small"
    place.mkdir()
    setting.folder.chmod(0o711)  # PostgreSQL runs as somebody else
    size = SIZE_MB + (0 if setting.url.startswith("sqlite") else POSTGRESQL_MB)
    mount = ["mount", "-t", "tmpfs", "-o", f"size={size}m", "none", str(place)]
    subprocess.run(mount, check=True)
    try:
        yield place
    finally:
        subprocess.run(["umount", "--lazy", str(place)], check=True)


def _database(setting: Setting, place: Path) -> str:
    """Return the URL of an upgraded database whose rows are in a place."""
    if setting.url.startswith("sqlite"):
        url = f"sqlite:///{place / 'full.db'}"
    else:
        space, name = place / "space", f"full_{uuid4().hex}"
        space.mkdir()
        shutil.chown(space, "pgserver", "pgserver")
        execute(setting.url, f"CREATE TABLESPACE small LOCATION '{space}'")
        execute(setting.url, f"CREATE DATABASE {name} TABLESPACE small")
        url = make_url(setting.url).set(database=name).render_as_string(hide_password=False)
    runner.upgrade(url)
    return url


def _fill(where: Group, book: ledger.Ledger, draw: Random) -> Answer | None:
    """Report until a report is refused, and return the refusal; notes cannot be made smaller."""
    for number in range(MOST_REPORTS):
        notes = b64encode(draw.randbytes(1400)).decode()
        answer = _send(where, book, f"{number} {notes}")
        if answer.status != 201:
            progress(f"full after {number} reports: {answer.status} {answer.content.decode()}")
            return answer
    return None


def _send(where: Group, book: ledger.Ledger, mark: str) -> Answer:
    """Send a report; what is refused must not be there."""
    client = where.client()
    answer = client.ask("POST", f"{where.path}/reports", group.report(mark))
    client.close()
    if answer.status == 201:
        book.acknowledged(mark, (1, 0))
    return answer


def _not_refused(answers: list[Answer | None]) -> list[str]:
    """Return how else writes were answered than they should; small ones may still have fitted."""
    told = [answer for answer in answers if answer is not None and answer.status != 201]
    return [
        f"{answer.status} {answer.headers['Content-Type']}"
        for answer in told
        if answer.status not in REFUSED
        or answer.headers["Content-Type"] != "application/problem+json"
    ] or (["all were taken"] if not told else [])


def _not_read(where: Group) -> list[str]:
    client = where.client()
    places = ("", "/reports", "/feet", "/members", "/calibrations")
    found = Counter(client.ask("GET", where.path + place).status for place in places * 4)
    client.close()
    return [f"{status}" for status in found if status != 200]


def _recovers(where: Group, book: ledger.Ledger) -> float:
    """Return after how many seconds a report is taken again."""
    began = time.monotonic()
    while _send(where, book, f"after {time.monotonic()}").status != 201:
        if time.monotonic() - began > 10 * RECOVERED_S:
            break
        time.sleep(0.2)
    return time.monotonic() - began
