"""A calibration out of the database in blocks is the one that is made in memory."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from models.actions import basis, calibrations, judging
from models.actions.basis import InBlocks
from models.actions.judging import Judged
from models.learning.challenge import ACTIVE, GEOMETRY
from models.learning.gaps import ALL_REPORTS, KNOWN_REPORTS
from models.learning.spilled import Spilled


def judged(pool, gather=basis.in_memory) -> Judged:
    with pool.database.read() as session:
        return judging.calibrated(session, pool.steward, gather)


def near(value: Any) -> Any:
    """Return JSON values whose floats equal what is nearer than 1e-8."""
    if isinstance(value, dict):
        return {name: near(of) for name, of in value.items()}
    if isinstance(value, list):
        return [near(of) for of in value]
    return pytest.approx(value, abs=1e-8) if isinstance(value, float) else value


@pytest.fixture
def full(pool, socks):
    """Return a pool of 120 reports; a calibration of the first half of them answers."""
    rows = [*socks(120, 24)]
    pool.take(pool.sheets.of(*rows[:60]))
    with pool.database.write.begin() as session:
        calibrations.keep_calibration(session, pool.steward, judged(pool))
    pool.take(pool.sheets.of(*rows))
    return pool


def test_blocks_of_reports_give_what_all_in_memory_give(full, monkeypatch) -> None:
    monkeypatch.setattr(basis, "_READ_AT_ONCE", 33)
    whole, found = judged(full), judged(full, InBlocks(5, Spilled.of))
    assert found.fitted.fingerprint == whole.fitted.fingerprint
    assert (found.champion_id, found.people) == (whole.champion_id, whole.people)
    here, there = whole.fitted.posterior, found.fitted.posterior
    np.testing.assert_allclose(there.mean, here.mean, rtol=0, atol=1e-8)
    np.testing.assert_allclose(there.covariance, here.covariance, rtol=0, atol=1e-8)
    said = {name: found.diagnostics[name] for name in ("verdict", "gaps", "figures")}
    assert said == near({name: whole.diagnostics[name] for name in said})
    assert {gap["against"] for gap in said["gaps"]} == {GEOMETRY, ACTIVE}
    assert {gap["scope"] for gap in said["gaps"]} == {ALL_REPORTS, KNOWN_REPORTS}


def test_where_nothing_was_reported_geometry_answers(pool) -> None:
    assert judged(pool, InBlocks(3, Spilled.of)).fitted.reports == 0
