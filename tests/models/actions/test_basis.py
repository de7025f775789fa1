"""A calibration out of the database in blocks is the one that is made in memory."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from models.actions import basis, calibrations, judging, sharing, streams
from models.actions.activations import active_id
from models.actions.basis import InBlocks
from models.actions.evidence import Pool
from models.actions.judging import Judged
from models.domain.reviews import Status
from models.learning.challenge import ACTIVE, GEOMETRY
from models.learning.gaps import ALL_REPORTS, KNOWN_REPORTS
from models.learning.spilled import Spilled
from models.tables.socks import Report


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


def assert_alike(found: Judged, whole: Judged) -> None:
    assert found.fitted.fingerprint == whole.fitted.fingerprint
    assert (found.champion_id, found.people) == (whole.champion_id, whole.people)
    here, there = whole.fitted.posterior, found.fitted.posterior
    np.testing.assert_allclose(there.mean, here.mean, rtol=0, atol=1e-8)
    np.testing.assert_allclose(there.covariance, here.covariance, rtol=0, atol=1e-8)
    said = {name: found.diagnostics[name] for name in ("verdict", "gaps", "figures")}
    assert said == near({name: whole.diagnostics[name] for name in said})


def test_blocks_of_reports_give_what_all_in_memory_give(full, monkeypatch) -> None:
    monkeypatch.setattr(basis, "READ_AT_ONCE", 33)
    found = judged(full, InBlocks(5, Spilled.of))
    assert_alike(found, judged(full))
    gaps = found.diagnostics["gaps"]
    assert {gap["against"] for gap in gaps} == {GEOMETRY, ACTIVE}
    assert {gap["scope"] for gap in gaps} == {ALL_REPORTS, KNOWN_REPORTS}


@pytest.mark.parametrize(("most", "blocks"), [(119, 3), (120, 1)])
def test_a_large_group_is_learned_from_in_blocks_by_itself(
    full, monkeypatch, most: int, blocks: int
) -> None:
    monkeypatch.setattr(streams, "MOST_IN_MEMORY", most)
    monkeypatch.setattr(streams, "REPORTS_OF_A_BLOCK", 40)
    whole, found = judged(full, basis.in_memory), judged(full)
    with full.database.read() as session:
        gathered = basis.by_size(session, Pool(full.group_id), None)
    assert len(gathered.evidence.ends) == blocks
    assert_alike(found, whole)
    assert blocks > 1 or found.fitted.to_json() == whole.fitted.to_json()


@pytest.fixture
def beside(full, founding, socks):
    """Return the same pool, which begins with what another group of sixty people shared."""
    other = founding()
    other.take(other.sheets.of(*socks(120, 60)))
    with other.database.write.begin() as session:
        calibrations.keep_calibration(session, other.steward, judged(other))
        sharing.contribute(session, other.steward)
        sharing.use_pool(session, full.steward)
    return full


def without_somebody(pool) -> tuple[Pool, int]:
    """Return the pool without a member and with a report that is held, and how many are in it."""
    one, *others = pool.rows(Report)
    kept = [row for row in others if row.member_id != one.member_id]
    with pool.database.write.begin() as session:
        session.get_one(Report, kept[0].id).status = Status.HELD.value
    return Pool(pool.group_id, frozenset({one.member_id}), frozenset({kept[0].id})), len(kept)


def test_blocks_begin_with_a_wider_pool_and_leave_out_who_is_erased(beside) -> None:
    left, reports = without_somebody(beside)
    with beside.database.read() as session:
        active = active_id(session, beside.group_id)
        whole = judging.judged(session, left, active)
        found = judging.judged(session, left, active, InBlocks(5, Spilled.of))
    assert_alike(found, whole)
    assert found.fitted.wider is not None
    assert found.fitted.wider.people == 60
    assert (found.fitted.reports, len(found.people)) == (reports, 23)


def test_where_nothing_was_reported_geometry_answers(pool) -> None:
    assert judged(pool, InBlocks(3, Spilled.of)).fitted.reports == 0
