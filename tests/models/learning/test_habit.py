"""Habit: how much deeper somebody knits than the measures explain."""

from __future__ import annotations

from dataclasses import dataclass
from types import SimpleNamespace

import numpy as np
import pytest

from models.learning.habit import habits
from models.learning.ordinal.blocks import InMemory
from models.learning.ordinal.reporters import Reporters


def pool(seed: int, habit_sd: float, within_sd: float = 0.4) -> tuple[np.ndarray, ...]:
    """Return excess depths (cm), columns, true habits and reporters of 600 socks by 200 people."""
    draw = np.random.default_rng(seed)
    reporter = np.repeat(np.arange(200), 3)
    columns, habit = draw.normal(size=(600, 5)), draw.normal(0, habit_sd, 200)[reporter]
    explained = columns @ [0.5, -0.3, 0, 0, 0.2]
    return explained + habit + draw.normal(0, within_sd, 600), columns, habit, reporter


@dataclass(frozen=True)
class Depths:
    excess: np.ndarray
    linear: np.ndarray
    weight: np.ndarray
    reporters: Reporters


def found_in(*blocks: Depths) -> SimpleNamespace:
    """Return the variance of habits, and the habit of each row."""
    found = habits(InMemory(blocks))
    pairs = zip(found.of_reporter, blocks, strict=True)
    rows = np.concatenate([habit[block.reporters.of_row] for habit, block in pairs])
    return SimpleNamespace(of_row=rows, variance=found.variance)


def depths(
    excess: np.ndarray, columns: np.ndarray, weight: np.ndarray, reporter: np.ndarray
) -> Depths:
    return Depths(excess, columns, weight, Reporters.from_sorted(reporter))


def test_habits_are_found_and_what_the_measures_explain_is_not_taken_for_one() -> None:
    excess, columns, habit, reporter = pool(1, 0.5)
    found = found_in(depths(excess, columns, np.ones(600), reporter))
    assert np.corrcoef(found.of_row, habit)[0, 1] > 0.85
    # Shrunk to 3 / (3 + 1) of a mean of three.
    assert np.polyfit(habit, found.of_row, 1)[0] == pytest.approx(0.75, abs=0.06)
    assert found.variance == pytest.approx(0.25, abs=0.06)


def test_where_nobody_differs_there_is_hardly_any_variance() -> None:
    excess, columns, _, reporter = pool(2, 0.0)
    found = found_in(depths(excess, columns, np.ones(600), reporter))
    assert found.variance < 0.02


def test_all_rows_of_a_reporter_share_a_habit() -> None:
    excess, columns, _, reporter = pool(3, 0.5)
    found = found_in(depths(excess, columns, np.ones(600), reporter)).of_row
    assert (np.ptp(found.reshape(200, 3), axis=1) == 0).all()
    assert len(np.unique(found)) == len(np.unique(reporter))


def test_rows_of_little_weight_say_little_of_what_the_measures_explain() -> None:
    excess, columns, _, reporter = pool(4, 0.0)
    mistaken = np.where(reporter < 20, excess + 3 * columns[:, 0], excess)
    weight = np.where(reporter < 20, 1e-6, 1.0)
    clean, moved = (
        found_in(depths(values, columns, weight, reporter)).of_row[60:]
        for values in (excess, mistaken)
    )
    np.testing.assert_allclose(moved, clean, atol=1e-4)


def test_one_report_of_one_reporter_is_no_habit() -> None:
    found = found_in(depths(np.array([1.0]), np.ones((1, 3)), np.ones(1), np.zeros(1)))
    assert np.isfinite(found.of_row).all()
    assert abs(found.of_row[0]) < 0.5
    assert found.variance == 0


def test_blocks_of_reporters_give_what_all_of_them_give() -> None:
    excess, columns, _, reporter = pool(5, 0.5)
    whole = found_in(depths(excess, columns, np.ones(600), reporter))
    some, others = reporter < 70, reporter >= 70
    parts = (depths(excess[k], columns[k], np.ones(k.sum()), reporter[k]) for k in (some, others))
    found = found_in(*parts)
    np.testing.assert_allclose(found.of_row, whole.of_row, rtol=0, atol=1e-12)
    assert found.variance == pytest.approx(whole.variance, rel=1e-12)
