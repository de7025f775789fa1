"""No reporter speaks for the whole pool."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.learning.weights import capped_weights, largest_share


def shares(counts: list[int]) -> np.ndarray:
    """Return each reporter's share of the pool's weight, and check that weights are weights."""
    reporter = np.repeat(np.arange(len(counts)), counts)
    weight = capped_weights(reporter)
    assert weight.shape == reporter.shape
    assert ((weight > 0) & (weight <= 1)).all()
    return np.bincount(reporter, weight) / weight.sum()


@given(st.lists(st.integers(1, 3000), min_size=20, max_size=80))
def test_of_twenty_or_more_reporters_none_has_more_than_a_twentieth(counts: list[int]) -> None:
    assert shares(counts).max() <= 0.05 * (1 + 1e-9)


@given(st.lists(st.integers(1, 3000), min_size=1, max_size=19))
def test_of_fewer_none_has_more_than_twice_an_equal_share(counts: list[int]) -> None:
    assert shares(counts).max() <= min(2 / len(counts), 1) * (1 + 1e-9)


def test_where_nobody_is_above_the_share_every_report_counts_whole() -> None:
    assert capped_weights(np.repeat(np.arange(30), 4)).tolist() == [1.0] * 120
    assert capped_weights(np.zeros(7, np.int64)).tolist() == [1.0] * 7
    assert capped_weights(np.zeros(0, np.int64)).tolist() == []


def test_one_who_floods_is_cut_to_the_share_and_the_others_are_not() -> None:
    reporter = np.repeat(np.arange(40), [100, *[5] * 39])
    weight = capped_weights(reporter)
    # A twentieth of 195 and itself is 195 / 19.
    assert weight[:100].sum() == pytest.approx(195 / 19)
    assert weight[100:].tolist() == [1.0] * 195


@pytest.mark.parametrize("counts", [[400], [31, 90], [1000] * 19])
def test_among_few_nobody_counts_for_more_than_thirty_reports(counts: list[int]) -> None:
    weight = capped_weights(np.repeat(np.arange(len(counts)), counts))
    assert weight.sum() == pytest.approx(30 * len(counts))


@pytest.mark.parametrize(("reporters", "share"), [(1, 1), (2, 1), (5, 0.4), (20, 0.05), (99, 0.05)])
def test_the_largest_share_among_so_many(reporters: int, share: float) -> None:
    assert largest_share(reporters) == pytest.approx(share)
