"""What does calibrating in blocks save? Run: python .bench/blocks.py REPORTS BLOCKS [--cluster].

Invented reports in a SQLite file are calibrated three ways, each in a process of its own: all in
memory, in blocks from files, and in blocks on two worker processes of a Dask cluster on loopback
(`--cluster`). Printed are the seconds (of this process's work, and by the clock), the ratio of the
work to that of all in memory in the same run, the memory at the peak above what the process had
before (of the workers: the sum of their peaks above theirs; Linux tells), and how far the results
are apart. Everything that becomes of a calibration is in it, but for the search for doubtful
reports.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import sklearn.model_selection  # noqa: F401 -- loaded when first used, which is not measured
from sqlalchemy import insert

import models.learning.ordinal.regression  # noqa: F401 -- likewise
from migrations.runner import upgrade
from models.actions.actor import operator
from models.actions.basis import InBlocks, in_memory
from models.actions.groups import create_group
from models.actions.judging import Gather, calibrated
from models.domain.foot import MEASUREMENT_NAMES
from models.learning.evidence import COLUMNS
from models.learning.spilled import Spilled
from models.tables.base import new_id
from models.tables.engine import Database
from models.tables.people import Member
from models.tables.socks import Foot, Report

BATCH = 50_000
WAYS = ("memory", "files", "cluster")


def fill(database: Database, reports: int, spoil: Callable[[Any], Any] = lambda pool: pool) -> str:
    """Fill a database with batches of reports, each spoilt, and return the group's id."""
    with database.write.begin() as session:
        group, _ = create_group(session, "Invented", "Invented steward")
    add(database, str(group.id), reports, spoil)
    return str(group.id)


def add(
    database: Database,
    group_id: str,
    reports: int,
    spoil: Callable[[Any], Any] = lambda pool: pool,
    begin: int = 0,
) -> None:
    """Add reports of the decision benchmark's careless world, from a batch on."""
    sys.path.insert(0, str(Path(__file__).parent))
    from decisions.feet import FootSource
    from decisions.population import draw_reports
    from decisions.worlds import WORLDS

    truth, source = WORLDS["careless"](np.random.default_rng(5)), FootSource()
    for batch, first in enumerate(range(0, reports, BATCH), begin):
        number = min(BATCH, reports - first)
        drawn = draw_reports(np.random.default_rng([6, batch]), truth, source, number)
        with database.write.begin() as session:
            for table, rows in rows_of(spoil(drawn), group_id, batch).items():
                session.execute(insert(table), rows)


def rows_of(pool: Any, group_id: str, batch: int) -> dict[Any, list[dict[str, Any]]]:
    """Return members, feet and reports of a pool; every report has a foot of its own."""
    own = {"group_id": group_id}
    who, place = np.unique(pool.reporter, return_inverse=True)
    members = [new_id() for _ in who]
    feet, reports = [], []
    said = np.column_stack([pool.columns[name] for name in COLUMNS])
    for row, values in enumerate(np.where(np.isnan(said), None, said).tolist()):
        told = dict(zip(COLUMNS, values, strict=True))
        of = {**own, "id": new_id(), "member_id": members[place[row]]}
        feet.append(of | {name: told.pop(name) for name in MEASUREMENT_NAMES})
        reports.append(of | told | {"id": new_id(), "foot_id": of["id"]})
    named = [
        {**own, "id": member, "name": f"Invented {batch} {n}", "role": "knitter"}
        for n, member in enumerate(members)
    ]
    return {Member: named, Foot: feet, Report: reports}


@contextmanager
def gathering(way: str, blocks: int) -> Iterator[tuple[Gather, Any]]:
    """Yield what gathers reports, and what tells the peak memory of its workers in MiB."""
    if way == "memory":
        yield in_memory, list
    elif way == "files":
        yield InBlocks(blocks, Spilled.of), list
    else:
        from distributed import Client, LocalCluster

        from models.learning.cluster import OnCluster

        options = {"host": "127.0.0.1", "dashboard_address": "127.0.0.1:0"}
        with LocalCluster(n_workers=2, threads_per_worker=1, **options) as workers:
            with Client(workers) as client:
                tell = lambda: list(client.run(peak_mib).values())  # noqa: E731
                yield InBlocks(blocks, partial(OnCluster.of, client)), tell


def peak_mib() -> float:
    """Return the largest memory of this process so far, in MiB.

    What `getrusage` says may be that of the process which started this one.
    """
    status = Path("/proc/self/status").read_text()
    return int(status.partition("VmHWM:")[2].split()[0]) / 1024


def measure(way: str, url: str, group_id: str, blocks: int) -> None:
    """Calibrate one way, and print what it took and what it found as JSON."""
    database = Database(url)
    with gathering(way, blocks) as (gather, workers_peaks), database.read() as session:
        # Everything that is imported when first used is there before anything is measured.
        before, started = peak_mib(), sum(workers_peaks())
        start, worked = time.perf_counter(), time.process_time()
        judged = calibrated(session, operator(group_id), gather)
        clock, seconds = time.perf_counter() - start, time.process_time() - worked
        peak, of_workers = peak_mib() - before, sum(workers_peaks()) - started
    found = judged.fitted.posterior
    told = {
        "seconds": seconds,
        "clock": clock,
        "peak": peak,
        "workers": of_workers,
        "fingerprint": judged.fitted.fingerprint,
        "posterior": [*found.mean.tolist(), *found.covariance.ravel().tolist()],
        "scales": [found.offset_sd, found.habit_variance, found.misfit_variance],
    }
    print(json.dumps(told))


def main() -> None:
    """Measure the ways in turn."""
    reports, blocks = (int(given) for given in sys.argv[1:3])
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'invented.db'}"
        upgrade(url)
        database = Database(url)
        group_id = fill(database, reports)
        database.close()
        size = sum(file.stat().st_size for file in Path(folder).iterdir()) / reports
        print(f"{reports} reports, {blocks} blocks; the database has {size:.0f} bytes a report")
        found: dict[str, Any] = {}
        for way in WAYS[: 3 if "--cluster" in sys.argv else 2]:
            command = [sys.executable, __file__, "measure", way, url, group_id, str(blocks)]
            done = subprocess.run(command, check=True, capture_output=True, text=True)
            found[way] = json.loads(done.stdout.splitlines()[-1])
            tell(way, found[way], found["memory"])


def tell(way: str, found: dict[str, Any], whole: dict[str, Any]) -> None:
    """Print how one way compares with all in memory."""
    apart = max(
        float(np.max(np.abs(np.subtract(found[part], whole[part]))))
        for part in ("posterior", "scales")
    )
    same = "the same" if found["fingerprint"] == whole["fingerprint"] else "another"
    of_workers = f", workers {found['workers']:.0f} MiB" if found["workers"] else ""
    ratio = found["seconds"] / whole["seconds"]
    took = f"{found['seconds']:.1f} s ({found['clock']:.1f} by the clock), ratio {ratio:.2f}"
    peak = f"peak {found['peak']:.0f} MiB{of_workers}"
    print(f"{way:8} {took}; {peak}; {apart:.1e} apart, {same} fingerprint", flush=True)


if __name__ == "__main__":
    if sys.argv[1:2] == ["measure"]:
        measure(*sys.argv[2:5], int(sys.argv[5]))
    else:
        main()
