"""Grading against trying every table."""

from __future__ import annotations

from itertools import pairwise, product

import numpy as np
import pytest

from models.learning.grading import FALLING_BACK, LONGEST_JUMP, graded


def worth_of(table, values, rising, allow_jumps):
    """Return the value of a table less what falling back costs; nothing where it jumps."""
    steps = [after - before for before, after in pairwise(table)]
    if not allow_jumps and any(abs(step) > LONGEST_JUMP for step in steps):
        return -np.inf
    falls = sum(must and step < 0 for step, must in zip(steps, rising, strict=True))
    return sum(v[s] for v, s in zip(values, table, strict=True)) - FALLING_BACK * falls


@pytest.mark.parametrize("allow_jumps", [False, True])
@pytest.mark.parametrize("seed", range(12))
def test_no_other_table_is_worth_more(seed, allow_jumps):
    draw = np.random.default_rng(seed)
    values = [0.1 * draw.random(draw.integers(2, 7)) for _ in range(4)]
    rising = (draw.random(3) < 0.6).tolist()
    found = graded(values, rising, [0] * 4, allow_jumps=allow_jumps)
    tables = product(*(range(len(value)) for value in values))
    best = max(worth_of(table, values, rising, allow_jumps) for table in tables)
    assert worth_of(found, values, rising, allow_jumps) == pytest.approx(best)


@pytest.mark.parametrize(("gain", "table"), [(0.02, [2, 2]), (0.04, [2, 1])])
def test_a_larger_size_falls_back_only_where_that_is_worth_it(gain, table):
    values = [np.array([0, 0, 0.5]), np.array([0, 0.3 + gain, 0.3])]
    assert graded(values, [True], [0, 0]) == table
    assert graded(values, [False], [0, 0]) == [2, 1]


def test_between_equals_today_stays():
    assert graded([np.zeros(6), np.zeros(6)], [True], [3, 4]) == [3, 4]


def test_one_size_is_its_own_best():
    assert graded([np.array([0.1, 0.7, 0.3])], [], [0]) == [1]
