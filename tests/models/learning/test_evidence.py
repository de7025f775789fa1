"""Evidence says the same whatever order its rows came in and whatever its reporters are called."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from models.learning.evidence import COLUMNS, Evidence

SOCKS = 3
"""So few different socks that many rows say the same, of the same and of other reporters."""


def of(socks: list[int], reporter: list[int]) -> Evidence:
    """Return evidence of socks that differ in one measurement, which the first sock lacks."""
    columns = {name: np.ones(len(socks)) for name in COLUMNS}
    columns["ankle_circumference_mm"] = np.array([np.nan, *range(1, SOCKS)])[socks]
    return Evidence.of(columns, np.array(reporter))


def told(evidence: Evidence) -> tuple[bytes, ...]:
    return (*(evidence.columns[name].tobytes() for name in COLUMNS), evidence.reporter.tobytes())


@given(
    st.lists(st.tuples(st.integers(0, SOCKS - 1), st.integers(0, 4)), min_size=1, max_size=14),
    st.randoms(use_true_random=False),
)
def test_it_is_the_same_for_any_order_and_any_names(rows, rng) -> None:
    names = rng.sample(range(100), 5)
    mixed = rng.sample(rows, len(rows))
    one = of([sock for sock, _ in rows], [who for _, who in rows])
    two = of([sock for sock, _ in mixed], [names[who] for _, who in mixed])
    assert told(one) == told(two)
    assert one.fingerprint() == two.fingerprint()


def test_every_reporter_keeps_the_rows_that_are_theirs() -> None:
    found = of([0, 1, 2, 0, 1, 0], [7, 7, 7, 3, 3, 5])
    ankle = np.nan_to_num(found.columns["ankle_circumference_mm"])
    rows = {tuple(ankle[found.reporter == who].tolist()) for who in range(3)}
    assert rows == {(1, 2, 0), (1, 0), (0,)}
    assert (found.reports, found.reporters) == (6, 3)
