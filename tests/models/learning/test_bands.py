"""No cell is about few people, and none can be had by subtracting the others."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.learning.bands import KINDS, OTHER, Cell, cells, pooled, tallies
from models.learning.evidence import people
from models.learning.evidence_blocks import EvidenceBlocks, in_blocks

TABLES = st.lists(st.tuples(st.integers(0, 40), st.integers(0, 6)), min_size=1, max_size=120)


@given(TABLES, st.integers(2, 20))
def test_cells_hold_enough_people_and_every_row_once_or_there_are_none(rows, fewest) -> None:
    reporter, kind = np.array(rows).T
    found = pooled([Cell("k", str(k), kind == k) for k in np.unique(kind)], reporter, fewest)
    if len(np.unique(reporter)) < fewest:
        assert found == []
        return
    assert all(people(reporter, cell.rows) >= fewest for cell in found)
    assert np.array_equal(np.sum([cell.rows for cell in found], axis=0), np.ones(len(reporter)))


def test_the_smallest_cell_joins_those_who_would_else_be_alone() -> None:
    reporter = np.arange(35)
    kind = np.repeat([0, 1, 2], [20, 12, 3])
    found = pooled([Cell("k", str(k), kind == k) for k in range(3)], reporter, 10)
    assert [(cell.label, int(cell.rows.sum())) for cell in found] == [("0", 20), (OTHER, 15)]


@pytest.mark.parametrize("kind", KINDS)
def test_socks_are_told_apart_by_yarn_and_by_bands_of_20_mm(worlds, kind: str) -> None:
    draw = np.random.default_rng(5)
    pool = worlds.evidence(draw, worlds.truth.drawn(draw), 2000)
    for cell in cells(pool, kind, 10):
        if cell.label == OTHER:
            continue
        values = pool.columns[kind][cell.rows]
        low, *high = [int(word) for word in cell.label.split() if word.isdigit()]
        assert values.min() >= low
        assert values.max() < high[0] if high else values.max() == low


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("fewest", [2, 10, 60])
def test_sums_over_blocks_tell_of_the_same_cells(worlds, kind: str, fewest: int) -> None:
    evidence = worlds.evidence(np.random.default_rng(8), worlds.truth({}), 700)
    told = tallies(EvidenceBlocks.of(in_blocks(evidence, 4)), kind, fewest)
    assert told == [
        {
            "label": cell.label,
            "reports": int(cell.rows.sum()),
            "people": people(evidence.reporter, cell.rows),
        }
        for cell in cells(evidence, kind, fewest)
    ]
