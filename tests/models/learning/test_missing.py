"""Measurements that were not taken, filled in by column and one by one."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from models.domain.anthropometry import estimate
from models.domain.foot import MEASUREMENT_NAMES
from models.learning.missing import filled, patterns


@pytest.fixture
def gappy(worlds) -> dict[str, np.ndarray]:
    """Return 160 feet in which every set of measurements is missing in turn."""
    columns = worlds.feet(np.random.default_rng(4), 160)
    sets = list(product([True, False], repeat=len(MEASUREMENT_NAMES)))
    for row in range(160):
        for name, taken in zip(MEASUREMENT_NAMES, sets[row % len(sets)], strict=True):
            if not taken:
                columns[name][row] = np.nan
    return columns


def test_filling_by_column_equals_estimating_foot_by_foot(gappy) -> None:
    complete, sd = filled(gappy)
    for row in range(160):
        foot = {n: float(gappy[n][row]) for n in MEASUREMENT_NAMES if not np.isnan(gappy[n][row])}
        for name in MEASUREMENT_NAMES:
            assert complete[name][row] == pytest.approx(estimate(name, foot).value, rel=1e-12)
        assert sd[row] == estimate("heel_diagonal_mm", foot).sd


def test_what_was_measured_is_kept_to_the_bit_and_nothing_given_is_changed(gappy) -> None:
    before = {name: values.copy() for name, values in gappy.items()}
    complete, _ = filled(gappy)
    for name, values in gappy.items():
        taken = ~np.isnan(values)
        assert complete[name][taken].tobytes() == values[taken].tobytes()
        assert values.tobytes() == before[name].tobytes()


def test_every_row_belongs_to_exactly_one_pattern(gappy) -> None:
    found = list(patterns(gappy))
    assert len(found) == 16
    assert np.sum([rows for rows, _ in found], axis=0).tolist() == [1] * 160


def test_no_rows_have_no_gaps() -> None:
    complete, sd = filled({name: np.empty(0) for name in MEASUREMENT_NAMES})
    assert [len(values) for values in (*complete.values(), sd)] == [0] * 5
