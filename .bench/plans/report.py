"""The benchmark's tables: shares by strategy and amount, and how many reports a share takes."""

from __future__ import annotations

import numpy as np
from decisions.worlds import FIVE

from plans.run import Result

WANTED = (0.95, 0.97, 0.98)


def table(found: list[Result]) -> str:
    """Return mean shares over worlds and seeds, with the standard error between seeds."""
    amounts = sorted({one.reports for one in found})
    lines = ["| worlds | strategy | " + " | ".join(map(str, amounts)) + " |"]
    lines.append("|---|---|" + "---|" * len(amounts))
    worlds = list(dict.fromkeys(one.world for one in found))
    five = [world for world in worlds if world in FIVE]
    for name, chosen in [("five", five), *((world, [world]) for world in worlds)]:
        for strategy in dict.fromkeys(one.strategy for one in found):
            here = [one for one in found if one.strategy == strategy and one.world in chosen]
            cells = [_cell([one for one in here if one.reports == n]) for n in amounts]
            lines.append(f"| {name} | {strategy} | " + " | ".join(cells) + " |")
    return "\n".join(lines)


def _cell(found: list[Result]) -> str:
    seeds = sorted({one.seed for one in found})
    means = [np.mean([one.share for one in found if one.seed == seed]) for seed in seeds]
    if len(means) < 2:
        return f"{np.mean(means):.3f}"
    return f"{np.mean(means):.3f} +- {np.std(means, ddof=1) / np.sqrt(len(means)):.3f}"


def reached(found: list[Result]) -> str:
    """Return after how many reports each strategy's mean over five worlds reaches a share.

    Between the amounts that were played the mean is taken to rise evenly.
    """
    amounts = sorted({one.reports for one in found})
    lines = ["| strategy | " + " | ".join(f"{share:.0%} after" for share in WANTED) + " |"]
    lines.append("|---|" + "---|" * len(WANTED))
    for strategy in dict.fromkeys(one.strategy for one in found):
        here = [one for one in found if one.strategy == strategy and one.world in FIVE]
        means = [np.mean([one.share for one in here if one.reports == n]) for n in amounts]
        rising = np.maximum.accumulate(means)
        cells = [
            f"{np.interp(share, rising, amounts):.0f}" if rising[-1] >= share else "not reached"
            for share in WANTED
        ]
        lines.append(f"| {strategy} | " + " | ".join(cells) + " |")
    return "\n".join(lines)
