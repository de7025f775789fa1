"""How often does a calibration wait? Run: python .bench/challenge.py [SEEDS] [OLD NEW].

In each of the decision benchmark's six worlds a calibration of OLD reports is active and NEW ones
come in, sound or spoiled; printed is the share of the new calibrations that wait. Sound ones should
hardly ever wait; of spoiled ones those matter that would answer worse.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np

from models.learning.challenge import challenge
from models.learning.evidence import COLUMNS, Column, Evidence

Columns = dict[str, Column]
Rows = np.ndarray


def sound(_draw: np.random.Generator, columns: Columns, _new: Rows) -> Columns:
    """Leave all reports as they are."""
    return columns


def flipped(share: float) -> Callable[[np.random.Generator, Columns, Rows], Columns]:
    """Give the sign of a share of the new scores the wrong way round."""

    def spoilt(draw: np.random.Generator, columns: Columns, new: Rows) -> Columns:
        score = columns["fit_score"]
        wrong = new & (draw.random(len(score)) < share)
        return {**columns, "fit_score": np.where(wrong, -score, score)}

    return spoilt


def halved_gauge(yarn: int) -> Callable[[np.random.Generator, Columns, Rows], Columns]:
    """Count the gauge of new reports in one yarn weight over 5 cm."""

    def spoilt(_draw: np.random.Generator, columns: Columns, new: Rows) -> Columns:
        wrong = new & (columns["yarn_weight"] == yarn)
        names = ("stitches_per_10cm", "rounds_per_10cm")
        return columns | {name: np.where(wrong, columns[name] / 2, columns[name]) for name in names}

    return spoilt


KINDS = {
    "sound": sound,
    "30 % flipped": flipped(0.3),
    "all flipped": flipped(1.0),
    "gauge halved in yarn weight 1": halved_gauge(1),
    "gauge halved in yarn weight 2": halved_gauge(2),
}


def main() -> None:
    """Print the share that waits, by kind of new reports."""
    sys.path.insert(0, str(Path(__file__).parent))
    from decisions.feet import FootSource
    from decisions.population import draw_reports
    from decisions.worlds import WORLDS

    seeds = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    old, new = map(int, sys.argv[2:4]) if len(sys.argv) > 3 else (300, 30)
    came_later = np.arange(old + new) >= old
    for name, spoil in KINDS.items():
        waits = []
        for seed in range(seeds):
            for world in WORLDS.values():
                truth = world(np.random.default_rng([seed, 1]))
                draw = np.random.default_rng([seed, 2])
                pool = draw_reports(draw, truth, FootSource(), old + new)
                columns = {column: pool.columns[column][: old + new] for column in COLUMNS}
                spoilt = spoil(np.random.default_rng([seed, 3]), columns, came_later)
                evidence, order = Evidence.in_order(spoilt, pool.reporter[: old + new])
                waits.append(not challenge(evidence, ~came_later[order]).passed)
        print(f"{old} reports known, {new} new, {name}: {np.mean(waits):.3f} of {len(waits)} wait")


if __name__ == "__main__":
    main()
