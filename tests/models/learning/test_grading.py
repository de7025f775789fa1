"""Grading against trying every table."""

from __future__ import annotations

from itertools import pairwise, product

import numpy as np
import pytest

from models.learning.grading import LONGEST_JUMP, graded


def keeps_the_rules(table, rising, allow_jumps):
    steps = [after - before for before, after in pairwise(table)]
    even = allow_jumps or all(abs(step) <= LONGEST_JUMP for step in steps)
    return even and all(step >= 0 for step, must in zip(steps, rising, strict=True) if must)


@pytest.mark.parametrize("allow_jumps", [False, True])
@pytest.mark.parametrize("seed", range(12))
def test_no_table_that_keeps_the_rules_is_worth_more(seed, allow_jumps):
    draw = np.random.default_rng(seed)
    values = [draw.random(draw.integers(2, 7)) for _ in range(4)]
    rising = (draw.random(3) < 0.6).tolist()
    found = graded(values, rising, [0] * 4, allow_jumps=allow_jumps)
    assert keeps_the_rules(found, rising, allow_jumps)
    worth = {
        table: sum(value[s] for value, s in zip(values, table, strict=True))
        for table in product(*(range(len(value)) for value in values))
        if keeps_the_rules(table, rising, allow_jumps)
    }
    assert worth[tuple(found)] == pytest.approx(max(worth.values()))


def test_between_equals_today_stays():
    assert graded([np.zeros(6), np.zeros(6)], [True], [3, 4]) == [3, 4]


def test_one_size_is_its_own_best():
    assert graded([np.array([0.1, 0.7, 0.3])], [], [0]) == [1]
