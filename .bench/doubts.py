"""What does the search for doubtful reports take? Run: python .bench/doubts.py REPORTS [URL].

Invented reports in a SQLite file, or in the empty database at a URL: of each 50,000, one in a
thousand has a foot that is none, a thousand are copied under other names, fifty people give their
60 scores the wrong way round, and one sends 300 in a day. Found in a process of its own: seconds of
work and by the clock, memory at the peak above what the process had before (Linux tells), and how
many doubts of each reason, with a digest of all of them. With `PYTHONPATH` another version of the
project is measured on the same reports.
"""

from __future__ import annotations

import hashlib
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
from blocks import fill, peak_mib

from migrations.runner import upgrade
from models.actions.actor import operator
from models.actions.screening import doubtful
from models.tables.engine import Database

COPIED = 1_000
FLIPPED, SOCKS = 50, 60
FLOOD = 300


def spoilt(pool: Any) -> Any:
    """Return a batch with doubtful reports among the sound ones."""
    feet = slice(None, None, 1000)
    for name in ("foot_length_mm", "foot_circumference_mm"):
        pool.columns[name][feet] = np.maximum(pool.columns[name][feet] / 1.7, 90)
    many = slice(COPIED, COPIED + FLIPPED * SOCKS)
    pool.reporter[many] = pool.reporter.max() + 1 + np.arange(FLIPPED).repeat(SOCKS)
    pool.columns["fit_score"][many] *= -1
    for values in pool.columns.values():
        values[-COPIED:] = values[:COPIED]
    pool.reporter[-COPIED - FLOOD : -COPIED] = pool.reporter.max() + 1
    return pool


def measure(url: str, group_id: str) -> None:
    """Find the doubts, and print what it took."""
    database = Database(url)
    with database.read() as session:
        before = peak_mib()
        start, worked = time.perf_counter(), time.process_time()
        found = doubtful(session, operator(group_id))
        clock, seconds = time.perf_counter() - start, time.process_time() - worked
        peak = peak_mib() - before
    told = hashlib.sha256(repr(found).encode()).hexdigest()[:12]
    counts = sorted(Counter(doubt.reason for doubt in found).items())
    reasons = ", ".join(f"{number} {reason}" for reason, number in counts)
    print(f"{seconds:.1f} s ({clock:.1f} by the clock), peak {peak:.0f} MiB; {reasons}; {told}")


def main() -> None:
    """Fill a database and search it."""
    with tempfile.TemporaryDirectory() as folder:
        url = sys.argv[2] if len(sys.argv) > 2 else f"sqlite:///{Path(folder) / 'invented.db'}"
        upgrade(url)
        database = Database(url)
        group_id = fill(database, int(sys.argv[1]), spoilt)
        database.close()
        print(f"{sys.argv[1]} reports of group {group_id}", flush=True)
        subprocess.run([sys.executable, __file__, "measure", url, group_id], check=True)


if __name__ == "__main__":
    if sys.argv[1:2] == ["measure"]:
        measure(*sys.argv[2:4])
    else:
        main()
