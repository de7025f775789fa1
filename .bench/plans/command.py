"""The command: which worlds, seeds and amounts to play, and what is written."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path

from decisions.feet import FootSource, survey_rows
from decisions.worlds import WORLDS

from plans.report import reached, table
from plans.run import AMOUNTS, results


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the benchmark and write `table.md`."""
    asked = _arguments(arguments)
    source = FootSource(survey_rows(asked.feet) if asked.feet else None)
    asked.out.mkdir(parents=True, exist_ok=True)
    found = list(results(source, asked.worlds, range(*asked.seeds), asked.amounts))
    text = f"{table(found)}\n\n{reached(found)}\n"
    (asked.out / "table.md").write_text(text, encoding="utf-8")
    print(text)


def _arguments(arguments: Sequence[str] | None) -> argparse.Namespace:
    reader = argparse.ArgumentParser(prog="python .bench/plans")
    reader.add_argument("--seeds", type=int, nargs=2, default=(0, 10), metavar=("FIRST", "END"))
    reader.add_argument("--amounts", type=int, nargs="+", default=list(AMOUNTS))
    reader.add_argument("--worlds", nargs="+", choices=list(WORLDS), default=list(WORLDS))
    reader.add_argument("--feet", type=Path, help="survey rows; drawn from figures without")
    reader.add_argument("--out", type=Path, required=True)
    return reader.parse_args(arguments)
