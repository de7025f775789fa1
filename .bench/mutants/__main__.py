"""Which planted faults do the tests notice? Run: python .bench/mutants --help.

Faults are drawn by seed from a layer of `models` and planted one at a time in a copy of the tree;
the tests named after the module run on SQLite, with `--tests` others beside them. A fault that no
test notices in time is printed as survived: write a test, or find that it changes nothing.
"""

from __future__ import annotations

import argparse
import random
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from plants import Fault, faults_in

ROOT = Path(__file__).parents[2]
COPIED = ("models", "service", "migrations", "seed_demo", "tests", "pyproject.toml", "README.md")


def main() -> None:
    """Plant faults and print which were noticed."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--layer", default="actions", choices=("actions", "domain", "learning"))
    parser.add_argument("--module", action="append", help="only these modules of the layer")
    parser.add_argument("--faults", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--seconds", type=int, default=300, help="limit for the tests of one fault")
    parser.add_argument("--tests", nargs="*", default=[], help="test files to run for every fault")
    told = parser.parse_args()
    drawn = _drawn(told)
    survived = []
    with tempfile.TemporaryDirectory() as folder:
        for name in COPIED:
            copy = shutil.copytree if (ROOT / name).is_dir() else shutil.copy
            copy(ROOT / name, Path(folder) / name)
        for place, fault in drawn:
            seen = _noticed(Path(folder), place, fault, told)
            survived += [] if seen else [fault]
            print(
                f"{'killed  ' if seen else 'SURVIVED'} {place}:{fault.line} {fault.said}",
                flush=True,
            )
    print(f"{len(drawn) - len(survived)} of {len(drawn)} killed")


def _drawn(told: argparse.Namespace) -> list[tuple[Path, Fault]]:
    """Return faults of the layer, each as likely as any other, with their modules."""
    modules = sorted((ROOT / "models" / told.layer).glob("*.py"))
    every = [
        (path.relative_to(ROOT), fault)
        for path in modules
        if not told.module or path.stem in told.module
        for fault in faults_in(path.read_text())
    ]
    return random.Random(told.seed).sample(every, min(told.faults, len(every)))  # noqa: S311


def _noticed(tree: Path, place: Path, fault: Fault, told: argparse.Namespace) -> bool:
    """Return whether the tests of a module fail, or last too long, with a fault in it."""
    sound = (ROOT / place).read_text()
    named = [
        str(path.relative_to(ROOT))
        for path in sorted((ROOT / "tests").rglob(f"test_{place.stem}*.py"))
    ]
    tests = list(dict.fromkeys([*named, *told.tests]))
    if not tests:
        sys.exit(f"no test is named after {place}: name some with --tests")
    (tree / place).write_text(fault.planted)
    command = [
        sys.executable,
        "-m",
        "pytest",
        "-q",
        "-x",
        "--backend",
        "sqlite",
        "-p",
        "no:cacheprovider",
    ]
    try:
        done = subprocess.run(
            [*command, *tests], cwd=tree, capture_output=True, timeout=told.seconds, check=False
        )
    except subprocess.TimeoutExpired:
        return True
    finally:
        (tree / place).write_text(sound)
    if done.returncode not in (0, 1, 2):
        sys.exit(done.stdout.decode())
    return done.returncode != 0


if __name__ == "__main__":
    main()
