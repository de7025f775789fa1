"""Folds by reporter, and what is compared of a large pool."""

from __future__ import annotations

import numpy as np
import pytest

from models.learning.folds import MOST_FOLDS, compared_rows, reporter_folds


@pytest.mark.parametrize("people", [2, 4, 5, 37])
def test_everybody_is_held_out_once_and_whole(people: int) -> None:
    reporter = np.random.default_rng(people).integers(0, people, 40 * people)
    folds = list(reporter_folds(reporter))
    assert len(folds) == min(people, MOST_FOLDS)
    assert np.array_equal(np.sum(folds, axis=0), np.ones(len(reporter)))
    for held_out in folds:
        assert not set(reporter[held_out]) & set(reporter[~held_out])


def test_a_small_pool_is_compared_whole() -> None:
    assert compared_rows(np.repeat(np.arange(10), 12), most=120).all()


def test_of_a_large_pool_about_as_many_as_allowed_are_compared_of_people_taken_whole() -> None:
    reporter = np.random.default_rng(1).integers(0, 900, 5000)
    rows = compared_rows(reporter, most=1000)
    assert 800 <= rows.sum() <= 1100
    for who in np.unique(reporter[rows]):
        assert rows[reporter == who].all()


def test_one_who_floods_is_no_more_than_a_twentieth_of_what_is_compared() -> None:
    reporter = np.concatenate([np.zeros(50_000, np.int64), np.repeat(np.arange(1, 300), 10)])
    rows = compared_rows(reporter, most=2000)
    assert np.sum(rows & (reporter == 0)) == 100
    taken = np.flatnonzero(rows & (reporter == 0))
    assert set(np.diff(taken)) == {500}
    assert rows.sum() <= 2100
