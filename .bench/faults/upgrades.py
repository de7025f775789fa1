"""A migration is killed at every step: nothing has happened, and the next try reaches head.

An upgrade of an empty database, and of one that holds rows at the first revision, is killed before
its first statement, before its second and so on; the last kill is right before the commit.
"""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from itertools import count
from multiprocessing import get_context
from typing import Any

from sqlalchemy import Engine, MetaData, create_engine, event, select

from faults import group
from faults.claims import Claim, none, progress
from faults.copies import Copies
from faults.setting import Setting
from migrations import revisions, runner
from models.actions.actor import operator
from models.actions.groups import create_group
from models.actions.import_reports import read_first, take_in
from models.tables.engine import Database

FIRST = "0001"
REPORTS = 200
LEAST_STEPS = 20


def run(setting: Setting) -> Iterator[Claim]:
    """Kill upgrades from nothing, and from the first revision with rows."""
    for start in (None, FIRST):
        steps, wrong = 0, []
        with Copies(setting.url, setting.folder) as copies:
            if start:
                _fill(copies.original, setting, start)
            before = everything(copies.original)
            for step in range(0, 1000, 9 if setting.short else 1):
                url = copies.fresh()
                if not killed(url, step):
                    break
                steps += 1
                wrong += [f"step {step}: {what}" for what in _wrong(url, start, before)]
            progress(f"from {start}: killed at {steps} steps, {len(wrong)} wrong")
        least = LEAST_STEPS // (9 if setting.short else 1)
        yield Claim(f"steps at which an upgrade from {start} was killed", steps, steps >= least)
        yield none("half upgraded, rows changed, or head not reached afterwards", wrong)


def killed(url: str, step: int) -> bool:
    """Upgrade, die before a statement or the commit, and return whether it came to that."""
    context = get_context("forkserver")
    context.set_forkserver_preload(["faults.upgrades"])
    process = context.Process(target=_upgrade_and_die, args=(url, step))
    process.start()
    process.join()
    if process.exitcode not in (0, -signal.SIGKILL):
        raise RuntimeError(f"upgrade: exit code {process.exitcode}")
    return process.exitcode != 0


def everything(url: str) -> dict[str, list[Any]]:
    """Return every row of every table."""
    engine = create_engine(url)
    tables = MetaData()
    tables.reflect(engine)
    with engine.connect() as connection:
        found = {
            table.name: sorted(map(repr, connection.execute(select(table)).mappings()))
            for table in tables.sorted_tables
        }
    engine.dispose()
    return found


def _upgrade_and_die(url: str, step: int) -> None:
    done = count()

    def die(*_: Any) -> None:
        if next(done) == step:
            os.kill(os.getpid(), signal.SIGKILL)

    event.listen(Engine, "before_cursor_execute", die)
    event.listen(Engine, "commit", die)
    runner.upgrade(url)


def _wrong(url: str, start: str | None, before: dict[str, list[Any]]) -> Iterator[str]:
    if revisions.current(url) != start:
        yield f"it is at {revisions.current(url)}"
    if everything(url) != before:
        yield "its rows have changed"
    runner.upgrade(url)
    if revisions.current(url) != revisions.head():
        yield f"another try reached {revisions.current(url)} only"
    after = everything(url)
    yield from (
        f"{len(after[table])} {table} instead of {len(rows)}"
        for table, rows in before.items()
        if len(after[table]) != len(rows)
    )


def _fill(url: str, setting: Setting, revision: str) -> None:
    """Put reports into a database at head and take it back to a revision."""
    runner.upgrade(url)
    file = setting.folder / "rows.csv"
    file.write_text(group.csv("invented", REPORTS))
    database = Database(url)
    with read_first(file) as chunks, database.write.begin() as session:
        made, _ = create_group(session, "Invented group", "Invented steward")
        take_in(session, operator(made.id), chunks)
    database.close()
    runner.downgrade(url, revision)
