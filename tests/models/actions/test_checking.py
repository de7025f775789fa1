"""A calibration is held against its reports, in memory or through files. All are invented."""

from __future__ import annotations

from typing import Any

import pytest

from models.actions import activations, calibrations, checking, judging, reports, sharing, streams
from models.tables.learned import Calibration
from models.tables.socks import Report


def calibrate(pool: Any) -> None:
    with pool.database.read() as session:
        judged = judging.calibrated(session, pool.steward)
    with pool.database.write.begin() as session:
        calibrations.keep_calibration(session, pool.steward, judged)


def remarks(pool: Any) -> list[str]:
    with pool.database.read() as session:
        assert list(checking.unreadable(session)) == []
        return list(checking.outdated(session))


@pytest.fixture(params=[(streams.MOST_IN_MEMORY, 1), (0, 7), (0, 100)])
def learned(pool, socks, monkeypatch, request) -> Any:
    """Return a group of forty reports with a calibration, and three reports since."""
    monkeypatch.setattr(streams, "MOST_IN_MEMORY", request.param[0])
    monkeypatch.setattr(streams, "REPORTS_OF_A_BLOCK", request.param[1])
    rows = socks(43)
    pool.take(pool.sheets.of(*rows[:40]))
    calibrate(pool)
    pool.take(pool.sheets.of(*rows[40:]))
    return pool


def test_what_came_since_does_not_matter(learned) -> None:
    assert remarks(learned) == []


def test_what_was_corrected_since_is_noted(learned) -> None:
    first = min(learned.rows(Report), key=lambda row: row.id)
    with learned.database.write.begin() as session:
        report = reports.own_report(session, learned.steward, first.id)
        reports.amend_report(session, learned.steward, report, {"fit_score": -first.fit_score})
    (remark,) = remarks(learned)
    assert "rests on 40 reports, of which unchanged: 39; calibrate again" in remark


def test_what_began_with_a_wider_pool_still_has_its_reports(learned, founding, socks) -> None:
    other = founding()
    other.take(other.sheets.of(*socks(120, 60)))
    calibrate(other)
    with other.database.write.begin() as session:
        sharing.contribute(session, other.steward)
        sharing.use_pool(session, learned.steward)
    calibrate(learned)
    last = max(learned.rows(Calibration), key=lambda row: row.number)
    assert last.artefact["wider"]["people"] == 60
    with learned.database.write.begin() as session:
        activations.activate(session, learned.steward, last.id)
    assert remarks(learned) == []
