"""The heel in profile: everything in it is to scale."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.domain.gauge import Gauge
from models.domain.policy import Policy
from models.domain.worksheet import worksheet
from service.drawings.heel import HeelInProfile, heel_in_profile
from service.drawings.outline import LENGTH, MARGIN

FOOT = {"foot_length_mm": 252.0, "foot_circumference_mm": 236.0, "heel_diagonal_mm": 318.0}
GAUGE = Gauge(30, 42)


def drawn(slow: int, foot: dict[str, float] = FOOT) -> HeelInProfile:
    return heel_in_profile(worksheet(Policy(64, 16, 4).schedule(slow), GAUGE, foot), foot)


def points(text: str) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in (pair.split(",") for pair in text.split())]


@given(st.integers(0, 12), st.floats(200, 320))
def test_depth_and_the_rest_of_the_foot_are_drawn_in_their_proportion(
    slow: int, length: float
) -> None:
    heel = drawn(slow, {**FOOT, "foot_length_mm": length})
    placement = heel.sheet.fitting.waste_yarn
    depth = heel.sole_line - heel.heel_end
    foot = heel.toe_end - heel.sole_line
    assert depth / foot == pytest.approx(heel.sheet.depth_mm / placement.toe_to_waste_yarn_mm)
    assert depth + foot == pytest.approx(LENGTH)


def test_the_bands_are_the_sections_and_share_the_depth_by_their_rounds() -> None:
    heel = drawn(4)
    assert [(band.key, band.rounds) for band in heel.bands] == [
        ("plain", 3),
        ("slow", 16),
        ("medium", 8),
        ("fast", 4),
        ("close", 0),
    ]
    assert sum(band.depth_mm for band in heel.bands) == pytest.approx(heel.sheet.depth_mm)
    along = [points(band.points)[2][0] - MARGIN for band in heel.bands]
    left = [31, 28, 12, 4, 0]
    assert along == pytest.approx([along[0] * rounds / 31 for rounds in left], abs=0.1)


def test_the_corner_divides_the_heel_diagonal_as_the_knitting_does() -> None:
    heel = drawn(4)
    bend, tip = heel.outline.ankle_bend, heel.outline.heel_tip
    share = (heel.corner[0] - bend[0]) / (tip[0] - bend[0])
    # Half an edge of the opening is 16 stitches; half the girth adds the depth and 4 stitches.
    edge, depth, close = 1600 / 30, 3100 / 42, 400 / 30
    assert share == pytest.approx(edge / (edge + depth + close))


def test_a_section_without_rounds_has_no_band() -> None:
    assert [band.key for band in drawn(0).bands] == ["plain", "medium", "fast", "close"]


def test_a_taller_foot_is_drawn_taller() -> None:
    tall = drawn(4, {**FOOT, "heel_diagonal_mm": 340.0})
    assert tall.outline.ground > drawn(4).outline.ground
    assert tall.height > drawn(4).height
