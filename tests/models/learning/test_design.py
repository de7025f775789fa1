"""The columns of the regression, worked out a second time from their definitions."""

from __future__ import annotations

from math import exp

import numpy as np
import pytest

from models.domain.anthropometry import estimate, regression
from models.domain.foot import MEASUREMENT_NAMES
from models.learning.design import design
from models.learning.evidence import QUESTION_COLUMNS
from models.learning.terms import (
    BLOCKS,
    COLUMN_NAMES,
    LEARNED_BLOCKS,
    PRIOR_MEANS,
    PRIOR_SDS,
    SHAPE_NAMES,
    TERM_NAMES,
    block_numbers,
)

LENGTH_AND_BALL = ("foot_length_mm", "foot_circumference_mm")


def by_hand(row: dict[str, float]) -> tuple[float, dict[str, float]]:
    """Return the excess depth (cm) and the columns of one sock, by name."""
    taken = {name: row[name] for name in MEASUREMENT_NAMES if row[name] == row[name]}
    foot = {name: estimate(name, taken).value for name in MEASUREMENT_NAMES}
    slow, medium, fast = (row[f"{key}_decrease_rounds"] for key in ("slow", "medium", "fast"))
    even = row["heel_stitches"] - row["heel_stitches"] % row["decreases_per_round"]
    closing = even - row["decreases_per_round"] * (slow + medium + fast)
    stitch = 100 / row["stitches_per_10cm"]
    depth = (row["plain_rounds"] + 4 * slow + 2 * medium + fast) * 100 / row["rounds_per_10cm"]
    across = (row["heel_stitches"] + closing) / 2 * stitch
    ideal = (0.9 * foot["heel_diagonal_mm"] - across) / 2

    def beyond(name: str, *known: str) -> float:
        expected = regression(name, frozenset(known))
        return (foot[name] - expected.predict(foot)) / expected.sd

    scaled = {
        "foot_length": beyond("foot_length_mm"),
        "circumference": beyond("foot_circumference_mm", "foot_length_mm"),
        "diagonal": beyond("heel_diagonal_mm", *LENGTH_AND_BALL),
        "ankle": beyond("ankle_circumference_mm", *LENGTH_AND_BALL),
        "across": (across - 138) / 12,
        "ease": (row["heel_stitches"] * stitch / foot["foot_circumference_mm"] - 0.9) / 0.03,
        "gauge": (row["stitches_per_10cm"] - 28) / 4.5,
    }
    shape = {name: min(max(value, -3.5), 3.5) for name, value in scaled.items()}
    found = {f"yarn_weight_{n}": float(row["yarn_weight"] == n) for n in range(8)} | shape
    found["ideal_depth_cm"] = min(max(ideal / 10 - 7.5, -3.5), 3.5)
    for name, value in shape.items():
        found[f"{name}*{name}"] = (value**2 - 1) / 1.4
        found |= {f"{name}*{other}": value * shape[other] for other in shape if other != name}
        found |= {f"{name}@{c:g}": exp(-(((value - c) / 0.8) ** 2) / 2) for c in (-1.5, -0.5, 0.5)}
        found[f"{name}@1.5"] = exp(-(((value - 1.5) / 0.8) ** 2) / 2)
    return (depth - ideal) / 10, found


@pytest.mark.parametrize("each", [1, 2, 4, 5])
def test_by_column_it_is_what_the_definitions_say_row_by_row(worlds, each: int) -> None:
    draw = np.random.default_rng(each)
    columns = worlds.socks(draw, 60)
    columns["decreases_per_round"] = np.full(60, float(each))
    columns["heel_stitches"] += draw.integers(0, 4, 60)
    for name in MEASUREMENT_NAMES[2:]:
        columns[name] = np.where(draw.random(60) < 0.4, np.nan, columns[name])
    found = design(columns)
    for n in range(60):
        row = {name: float(columns[name][n]) for name in QUESTION_COLUMNS}
        excess, values = by_hand(row)
        assert found.excess[n] == pytest.approx(excess)
        assert found.columns[n] == pytest.approx([values[name] for name in COLUMN_NAMES])
        taken = frozenset(name for name in MEASUREMENT_NAMES if row[name] == row[name])
        sd = 0 if "heel_diagonal_mm" in taken else regression("heel_diagonal_mm", taken).sd
        assert found.ideal_sd[n] == pytest.approx(0.045 * sd)


def test_a_measurement_that_says_nothing_new_is_zero(worlds) -> None:
    columns = worlds.socks(np.random.default_rng(2), 20)
    for name in MEASUREMENT_NAMES[2:]:
        columns[name] = np.full(20, np.nan)
    shape = design(columns).columns[:, : len(SHAPE_NAMES)]
    for name in ("diagonal", "ankle"):
        np.testing.assert_allclose(shape[:, SHAPE_NAMES.index(name)], 0, atol=1e-12)


def test_shape_terms_are_about_one_sd_wide_among_feet_of_the_survey(worlds) -> None:
    shape = design(worlds.socks(np.random.default_rng(3), 20_000)).columns[:, :4]
    np.testing.assert_allclose(shape.mean(axis=0), 0, atol=0.03)
    np.testing.assert_allclose(shape.std(axis=0), 1, atol=0.03)


def test_nothing_grows_without_end(worlds) -> None:
    columns = worlds.socks(np.random.default_rng(4), 5)
    columns["heel_diagonal_mm"] = np.full(5, 520.0)
    columns["stitches_per_10cm"] = np.full(5, 90.0)
    shape = design(columns).columns[:, : len(SHAPE_NAMES)]
    assert np.abs(shape).max() == 3.5


def test_every_term_has_a_belief_and_belongs_to_one_block() -> None:
    assert len(set(TERM_NAMES)) == len(TERM_NAMES) == len(PRIOR_MEANS) == len(PRIOR_SDS)
    assert len(COLUMN_NAMES) == len(block_numbers()) == sum(len(block.names) for block in BLOCKS)
    for number, block in enumerate(LEARNED_BLOCKS):
        where = np.flatnonzero(block_numbers() == number)
        assert tuple(COLUMN_NAMES[k] for k in where) == block.names
