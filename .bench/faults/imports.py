"""Imports at the command line, killed at drawn moments of the time that one takes."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from multiprocessing import get_context
from typing import Any

from faults import group, ledger
from faults.claims import Claim, none, progress
from faults.setting import Setting
from models.actions.groups import create_group
from models.tables.engine import Database

ROWS = 3000
"""Reports of a file that is imported."""
WHOLE: ledger.State = (ROWS, 0)
PATIENCE = 120.0


LOOKS = 10
"""Every so many turns all references are followed: what is torn stays so."""


def run(setting: Setting) -> Iterator[Claim]:
    """Kill, look whether there is all or nothing, take the file in again."""
    turns, group_id = setting.amount(200, 4), _group(setting.url)
    draw, wrong, halfway = setting.draw("imports"), [], 0
    takes = imported(setting, group_id, "whole", PATIENCE) or PATIENCE
    for turn in range(turns):
        mark = f"import {turn}"
        takes = imported(setting, group_id, mark, draw.uniform(0, 1.2 * takes)) or takes
        found = ledger.held(setting.url).get(mark)
        halfway += found is None
        wrong += [mark] * (found not in {None, WHOLE})
        takes = imported(setting, group_id, mark, PATIENCE) or takes
        wrong += [mark] * (ledger.held(setting.url).get(mark) != WHOLE)
        if turn % LOOKS == 0 or turn == turns - 1:
            wrong += ledger.torn(setting.url)
        progress(f"import {turn + 1} of {turns}: {halfway} killed half-way, {len(wrong)} wrong")
    yield Claim("imports killed before they were done", f"{halfway} of {turns}", halfway > 0)
    yield none("imported in part, lost, or not right when imported again", wrong)


def _group(url: str) -> str:
    database = Database(url)
    with database.write.begin() as session:
        made, _ = create_group(session, "Invented group", "Invented steward")
    database.close()
    return str(made.id)


def imported(setting: Setting, group_id: str, mark: str, seconds: float) -> float | None:
    """Return how long an import took, or None where it was killed first.

    Raises
    ------
    RuntimeError
        Where it was refused, or was said to be done and is not.

    """
    file = setting.folder / "import.csv"
    file.write_text(group.csv(mark, ROWS))
    context = get_context("forkserver")
    context.set_forkserver_preload(
        ["faults.imports", "service.cli", "service.commands.files", "pandas"]
    )
    ready = context.Event()
    process: Any = context.Process(target=_command, args=(setting.url, str(file), group_id, ready))
    process.start()
    ready.wait()
    began = time.monotonic()
    process.join(seconds)
    took = time.monotonic() - began
    process.kill()
    process.join()
    if process.exitcode not in (0, -9):
        raise RuntimeError(f"import: exit code {process.exitcode}")
    if process.exitcode == 0 and ledger.held(setting.url).get(mark) != WHOLE:
        raise RuntimeError(f"{mark} was said to be done")
    return took if process.exitcode == 0 else None


def _command(url: str, file: str, group_id: str, ready: Any) -> None:
    """Run `heeldepth import` in a process that has loaded it."""
    from service.cli import main as heeldepth

    os.environ["HEELDEPTH_DATABASE_URL"] = url
    with open(os.devnull, "w") as nowhere:
        os.dup2(nowhere.fileno(), 1)
        os.dup2(nowhere.fileno(), 2)
    ready.set()
    heeldepth(["import", file, "--group", group_id])
