"""The benchmark's picture: share of the best chance against reports, one line per candidate."""

from __future__ import annotations

from html import escape

import numpy as np

from decisions.report import mean_by_size, share
from decisions.run import Result
from decisions.worlds import FIVE
from models.learning.evidence import Column

WIDTH, HEIGHT, LEFT, TOP = 340.0, 300.0, 50.0, 40.0
LOWEST, HIGHEST = 0.5, 1.0
COLOURS = ("#1b5e9c", "#c2571a", "#3a7d34", "#8a3b8f", "#a08400", "#666666", "#0f8a8a", "#b03050")


def picture(results: list[Result]) -> str:
    """Return an SVG with one panel for the five worlds' mean and one for the adapted world."""
    panels = (("mean of five worlds", set(FIVE)), ("knitters already adapt", {"adapted"}))
    names = list(dict.fromkeys(r.candidate for r in results))
    drawn = [
        _panel(title, [r for r in results if r.world in worlds], names, 420.0 * k)
        for k, (title, worlds) in enumerate(panels)
    ]
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1060 390" role="img">'
        "<title>Chance of just right as a share of the best possible</title>"
        "<desc>Share against number of reports, one line for each candidate.</desc>"
        f"{''.join(drawn)}{_legend(names)}</svg>"
    )


def _panel(title: str, results: list[Result], names: list[str], shift: float) -> str:
    sizes = sorted({r.reports for r in results})
    across = np.log(np.asarray(sizes, dtype=np.float64) / min(sizes, default=1))
    x = LEFT + WIDTH * across / max(float(across.max(initial=0.0)), 1e-9)
    parts = [f'<g transform="translate({shift:.0f} 0)">', _text(LEFT, 22, title), _axes(x, sizes)]
    for k, name in enumerate(names):
        mean = mean_by_size((r for r in results if r.candidate == name), sizes, share)
        parts.append(_line(x, mean, COLOURS[k % len(COLOURS)], 3.0 if name == "ours" else 1.3))
    return "".join([*parts, "</g>"])


def _height(value: float) -> float:
    kept = min(max(value, LOWEST), HIGHEST)
    return TOP + HEIGHT * (HIGHEST - kept) / (HIGHEST - LOWEST)


def _line(x: Column, values: Column, colour: str, width: float) -> str:
    points = " ".join(f"{a:.1f},{_height(b):.1f}" for a, b in zip(x, values, strict=True))
    return f'<polyline points="{points}" fill="none" stroke="{colour}" stroke-width="{width}"/>'


def _axes(x: Column, sizes: list[int]) -> str:
    marks = [_text(a - 8, TOP + HEIGHT + 18, str(size)) for a, size in zip(x, sizes, strict=True)]
    for value in (0.5, 0.6, 0.7, 0.8, 0.9, 1.0):
        y = _height(value)
        marks.append(_text(14, y + 4, f"{value:.1f}"))
        marks.append(f'<path d="M{LEFT} {y:.1f}h{WIDTH}" stroke="#ddd"/>')
    return "".join(marks)


def _legend(names: list[str]) -> str:
    rows = []
    for k, name in enumerate(names):
        y = TOP + 22.0 * k
        colour = COLOURS[k % len(COLOURS)]
        rows.append(f'<path d="M850 {y:.0f}h20" stroke="{colour}" stroke-width="3"/>')
        rows.append(_text(876, y + 4, name))
    return "".join(rows)


def _text(x: float, y: float, words: str) -> str:
    font = 'font-family="sans-serif" font-size="13"'
    return f'<text x="{x:.0f}" y="{y:.0f}" {font}>{escape(words)}</text>'
