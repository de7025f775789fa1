"""The command: which experiment, on which database, how long."""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from collections.abc import Sequence
from importlib import import_module
from pathlib import Path

from faults.claims import progress
from faults.databases import BACKENDS, database
from faults.setting import Setting

EXPERIMENTS = {
    "kills": "the server killed while people write",
    "imports": "imports killed half-way",
    "upgrades": "migrations killed at every step",
    "held": "500 requests that are begun and never finished",
    "soak": "50 writers and 200 readers, with a calibration a minute",
    "full": "no room on the disk",
    "hostile": "bodies and files that are made to hurt",
    "edits": "eight people change the same reports; one request sent 50 times at once",
}


def main(arguments: Sequence[str] | None = None) -> None:
    """Run an experiment and print its claims; exit with 1 where one does not hold."""
    asked = _arguments(arguments)
    started = time.monotonic()
    with tempfile.TemporaryDirectory(prefix="faults") as folder:
        with database(asked.database, Path(folder)) as url:
            setting = Setting(url, Path(folder), asked.seed, asked.short, asked.times)
            claims = list(import_module(f"faults.{asked.name}").run(setting))
    print(f"\n{asked.name}, {asked.database}, seed {asked.seed}\n")
    print("| claim | found | |\n|---|---|---|")
    print("\n".join(map(str, claims)))
    progress(f"{time.monotonic() - started:.0f} s, load average {os.getloadavg()[0]:.1f}")
    sys.exit(not all(claim.holds for claim in claims))


def _arguments(arguments: Sequence[str] | None) -> argparse.Namespace:
    told = "\n".join(f"  {name:10} {what}" for name, what in EXPERIMENTS.items())
    reader = argparse.ArgumentParser(
        prog="python .bench/faults",
        description=f"experiments:\n{told}",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    reader.add_argument("name", choices=list(EXPERIMENTS))
    reader.add_argument("--database", choices=BACKENDS, default="sqlite")
    reader.add_argument("--seed", type=int, default=0)
    reader.add_argument("--short", action="store_true", help="seconds instead of minutes")
    reader.add_argument("--times", type=int, help="how often, or for how many seconds")
    return reader.parse_args(arguments)
