"""The benchmark's table: means over worlds and seeds, with what noise leaves of a difference."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np

from decisions.run import Result
from decisions.worlds import FIVE
from models.learning.evidence import Column

Reading = Callable[[Result], float]


def mean_by_size(results: Iterable[Result], sizes: Iterable[int], reading: Reading) -> Column:
    """Return the mean reading at each size; NaN where nothing was claimed."""
    found = list(results)
    columns = [[reading(r) for r in found if r.reports == size] for size in sizes]
    return np.asarray([np.mean(column) if column else np.nan for column in columns])


def share(result: Result) -> float:
    """Read the share of the oracle's chance."""
    return result.marks.share


def table(results: list[Result]) -> str:
    """Return the table of shares in Markdown, five worlds' mean and the adapted world."""
    sizes = sorted({r.reports for r in results})
    header = " | ".join(str(size) for size in sizes)
    lines = [
        f"| candidate | five worlds: {header} | adapted: {header} |",
        "|---|" + "---|" * (2 * len(sizes)),
    ]
    for name in dict.fromkeys(r.candidate for r in results):
        mine = [r for r in results if r.candidate == name]
        five = mean_by_size((r for r in mine if r.world in FIVE), sizes, share)
        adapted = mean_by_size((r for r in mine if r.world == "adapted"), sizes, share)
        cells = " | ".join(f"{value:.3f}" for value in [*five, *adapted])
        lines.append(f"| {name} | {cells} |")
    return "\n".join(lines)


def by_world(results: list[Result], name: str, reading: Reading) -> str:
    """Return one candidate's reading in each world and size, in Markdown."""
    sizes = sorted({r.reports for r in results})
    lines = ["| world | " + " | ".join(map(str, sizes)) + " |", "|---|" + "---|" * len(sizes)]
    for world in dict.fromkeys(r.world for r in results):
        mine = (r for r in results if r.candidate == name and r.world == world)
        cells = " | ".join(f"{value:.3f}" for value in mean_by_size(mine, sizes, reading))
        lines.append(f"| {world} | {cells} |")
    return "\n".join(lines)


def lead(results: list[Result], ours: str, other: str, worlds: Iterable[str]) -> list[str]:
    """Return, per size, the mean lead of `ours` over `other` and its standard error.

    Worlds are averaged within a seed first, so the error is between seeds.
    """
    wanted, lines = set(worlds), []
    for size in sorted({r.reports for r in results}):
        gaps = []
        for seed in sorted({r.seed for r in results}):
            run = (r for r in results if r.seed == seed and r.reports == size)
            here = [r for r in run if r.world in wanted]
            mine = np.mean([r.marks.share for r in here if r.candidate == ours])
            theirs = np.mean([r.marks.share for r in here if r.candidate == other])
            gaps.append(mine - theirs)
        error = np.std(gaps, ddof=1) / np.sqrt(len(gaps)) if len(gaps) > 1 else np.nan
        lines.append(f"{size}: {np.mean(gaps):+.4f} +- {error:.4f}")
    return lines
