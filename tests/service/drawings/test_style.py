"""The one style sheet: what is told by colour can be told on grey paper too."""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path

import pytest

import service

SHEET = (Path(service.__file__).parent / "static" / "pages.css").read_text()
BANDS = ("plain", "slow", "medium", "fast", "close")


def colours(part: str) -> dict[str, str]:
    return dict(re.findall(r"--([\w-]+): (#\w+);", part))


def luminance(colour: str) -> float:
    """Return relative luminance (W3C, WCAG 2.2, definition of relative luminance)."""
    digits = colour[1:] if len(colour) == 7 else "".join(2 * digit for digit in colour[1:])
    parts = [int(digits[k : k + 2], 16) / 255 for k in (0, 2, 4)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


LIGHT = colours(SHEET.split("@media")[0])
DARK = LIGHT | colours(SHEET.split("@media (prefers-color-scheme: dark)")[1].split("@media")[0])
PRINT = DARK | colours(SHEET.split("@media print")[1])


@pytest.mark.parametrize("scheme", [LIGHT, DARK, PRINT], ids=["light", "dark", "print"])
def test_neighbouring_bands_differ_in_lightness(scheme: dict[str, str]) -> None:
    shades = [luminance(scheme[band]) for band in BANDS]
    assert shades == sorted(shades) or shades == sorted(shades, reverse=True)
    for one, other in pairwise(BANDS):
        assert contrast(scheme[one], scheme[other]) > 1.3


@pytest.mark.parametrize("scheme", [LIGHT, DARK, PRINT], ids=["light", "dark", "print"])
def test_edges_of_fields_and_tapes_stand_out(scheme: dict[str, str]) -> None:
    # WCAG 2.2, success criterion 1.4.11: at least 3 to 1.
    for line, ground in (("edge", "paper"), ("mark", "paper"), ("mark", "foot"), ("ink", "foot")):
        assert contrast(scheme[line], scheme[ground]) >= 3


def test_on_paper_everything_is_grey() -> None:
    printed = colours(SHEET.split("@media print")[1])
    assert set(BANDS) <= set(printed)
    for colour in printed.values():
        digits = colour[1:]
        size = len(digits) // 3
        assert digits[:size] == digits[size : 2 * size] == digits[2 * size :]
