"""Reports that never were in memory together are numbered, sorted and cut as if they had been."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from models.learning.arrivals import Arrivals
from models.learning.evidence import COLUMNS, Evidence
from models.learning.folds import compared_rows

WORLD = {"excess_depth_cm": 1.2, "diagonal": 0.2}


@pytest.fixture
def reports(worlds) -> tuple[dict[str, np.ndarray], np.ndarray, np.ndarray]:
    """Return columns, people and what was known of 1,500 reports as they lie about.

    Some feet lack a diagonal. Three people say one and the same of their first socks, two of
    these the same of all.
    """
    draw = np.random.default_rng(4)
    evidence = worlds.evidence(draw, worlds.truth(WORLD, share_without_diagonal=0.3), 1500)
    copied = np.flatnonzero(evidence.reporter == 7)
    told = {
        name: np.concatenate([values, values[copied], values[copied], values[copied[:2]]])
        for name, values in evidence.columns.items()
    }
    more = np.repeat([200, 201, 202], [len(copied), len(copied), 2])
    who = np.concatenate([evidence.reporter, more])
    shuffled = draw.permutation(len(who))
    columns = {name: told[name][shuffled] for name in COLUMNS}
    return columns, who[shuffled], columns["foot_length_mm"] < 250


def chunks(columns, who, known, people: int) -> Iterator[np.ndarray]:
    """Yield chunks of so many people, who come in an order of their own."""
    code = np.unique(who * 37 % 211, return_inverse=True)[1]
    rows = np.column_stack([code, known, *(columns[name] for name in COLUMNS)])
    for first in range(0, code.max() + 1, people):
        yield rows[(code >= first) & (code < first + people)]


def test_blocks_hold_what_evidence_in_memory_holds(reports) -> None:
    columns, who, known = reports
    whole = Evidence.of(columns, who)
    arrived = Arrivals.of(chunks(columns, who, known, 11))
    blocks = list(arrived.blocks(300))
    assert len(blocks) == 6
    together = np.concatenate([block.reporter for block in blocks])
    by_person = np.argsort(whole.reporter, kind="stable")
    assert together.tolist() == whole.reporter[by_person].tolist()
    for name in COLUMNS:
        found = np.concatenate([block.columns[name] for block in blocks])
        np.testing.assert_array_equal(found, whole.columns[name][by_person])


def test_the_fingerprint_is_that_of_all_in_memory(reports) -> None:
    columns, who, known = reports
    arrived = Arrivals.of(chunks(columns, who, known, 11))
    assert arrived.fingerprint() == Evidence.of(columns, who).fingerprint()


@pytest.mark.parametrize("most", [100, 400, 10_000])
def test_the_same_reports_are_compared(reports, most: int) -> None:
    columns, who, known = reports
    whole, order = Evidence.in_order(columns, who)
    rows = compared_rows(whole.reporter, most)
    compared, seen = Arrivals.of(chunks(columns, who, known, 11)).compared(most)
    assert compared.reporter.tolist() == whole.reporter[rows].tolist()
    for name in COLUMNS:
        np.testing.assert_array_equal(compared.columns[name], whole.columns[name][rows])
    assert seen.tolist() == known[order][rows].tolist()
    assert compared.fingerprint() == whole.only(rows).fingerprint()
