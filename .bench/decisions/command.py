"""The command: which worlds, seeds and candidates to run, and what is written."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from operator import attrgetter
from pathlib import Path

from decisions.attacks import movements
from decisions.candidates import CANDIDATES
from decisions.feet import FootSource, survey_rows
from decisions.picture import picture
from decisions.report import by_world, lead, table
from decisions.run import QUESTIONS, SIZES, results
from decisions.storage import append, load
from decisions.worlds import FIVE, WORLDS

READINGS = ("share", "calibration", "coverage", "error_mm")


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the benchmark, then write `results.jsonl`, `table.md` and `picture.svg`."""
    asked = _arguments(arguments)
    source = FootSource(survey_rows(asked.feet) if asked.feet else None)
    asked.out.mkdir(parents=True, exist_ok=True)
    seeds, names = range(*asked.seeds), asked.candidates or list(CANDIDATES)
    if asked.attacks:
        lines = [f"| {n} | {share:.0%} | {m:.2f} |" for n, share, m in movements(source, seeds)]
        head = "| attack | of the pool | slow-decrease rounds moved |\n|---|---|---|\n"
        _write(asked.out / "attacks.md", head + "\n".join(lines))
        return
    stored = asked.out / "results.jsonl"
    append(stored, results(source, WORLDS, seeds, asked.sizes, names, asked.questions))
    found = load(stored)
    parts = [table(found)]
    if "ours" in names:
        for reading in READINGS:
            shown = by_world(found, "ours", attrgetter(f"marks.{reading}"))
            parts.append(f"ours, {reading}\n\n{shown}")
        for other in (name for name in names if name != "ours"):
            five, adapted = (lead(found, "ours", other, w) for w in (FIVE, ("adapted",)))
            parts.append(f"lead over {other}: five worlds {five}; adapted {adapted}")
    _write(asked.out / "table.md", "\n\n".join(parts))
    _write(asked.out / "picture.svg", picture(found))


def _write(path: Path, text: str) -> None:
    path.write_text(text + "\n", encoding="utf-8")


def _arguments(arguments: Sequence[str] | None) -> argparse.Namespace:
    reader = argparse.ArgumentParser(prog="python .bench/decisions")
    reader.add_argument("--seeds", type=int, nargs=2, default=(0, 20), metavar=("FIRST", "END"))
    reader.add_argument("--sizes", type=int, nargs="+", default=list(SIZES))
    reader.add_argument("--questions", type=int, default=QUESTIONS)
    reader.add_argument("--feet", type=Path, help="survey rows; drawn from figures without")
    reader.add_argument("--out", type=Path, required=True)
    reader.add_argument("--candidates", nargs="+", choices=list(CANDIDATES))
    reader.add_argument("--attacks", action="store_true", help="spoil pools instead")
    return reader.parse_args(arguments)
