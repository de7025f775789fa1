"""Stated against achieved, without a figure of fewer than ten people. All reports are invented."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import count
from typing import Any
from unittest.mock import Mock

import pytest
from sqlalchemy import update

from models.actions import activations, calibrations, judging, tracking
from models.actions.suggestions import ask
from models.domain.errors import NotFound
from models.tables.base import now
from models.tables.learned import Calibration
from models.tables.socks import Report

QUESTION = {
    "foot": {"foot_length_mm": 252, "foot_circumference_mm": 236, "heel_diagonal_mm": 318},
    "yarn_weight": 1,
    "stitches_per_10cm": 30,
    "rounds_per_10cm": 42,
    "heel_stitches": 64,
    "closing_stitches": 16,
    "medium_decrease_rounds": 4,
}
STARTS = count(0, 1000)
LONG_AGO = datetime(2020, 1, 1, tzinfo=UTC)


def calibrated(pool: Any, *, activate: bool = False) -> str:
    with pool.database.write.begin() as session:
        judged = judging.calibrated(session, pool.steward)
        made = calibrations.keep_calibration(session, pool.steward, judged, activate=False)
        if activate:
            activations.activate(session, pool.steward, made.id)
    return made.id


def later(pool: Any, number: int, people: int, named: str = "Later", **changed: Any) -> None:
    """Take in reports of so many people."""
    start = next(STARTS)
    rows = [
        {
            "reporter": f"{named} {n % people}",
            "foot_length_mm": 240 + (start + n) % 37 + n / 8,
            "heel_diagonal_mm": "",
            "slow_decrease_rounds": n % 5,
            "fit_score": n % 5 - 2,
            **changed,
        }
        for n in range(number)
    ]
    pool.take(pool.sheets.of(*rows))


def outcomes(pool: Any, calibration_id: str) -> dict[str, Any]:
    with pool.database.read() as session:
        return tracking.outcomes(session, pool.steward, calibration_id)


@pytest.mark.parametrize("people", [0, 1, 9])
def test_nothing_is_shown_of_fewer_than_ten_people(pool, socks, people: int) -> None:
    pool.take(pool.sheets.of(*socks(40)))
    made = calibrated(pool)
    if people:
        later(pool, 30, people)
    found = outcomes(pool, made)
    assert (found["reporters"], found["withheld"]) == (people, "too few people yet")
    assert found["table"] == []
    figures = ("stated", "achieved", "shift", "shift_low", "shift_high", "drift")
    assert {found[name] for name in figures} == {None}


def test_only_reports_that_came_after_are_judged(pool, socks) -> None:
    pool.take(pool.sheets.of(*socks(200)))
    made = calibrated(pool)
    later(pool, 40, 10, fit_score=0)
    found = outcomes(pool, made)
    assert (found["reports"], found["reporters"], found["achieved"]) == (40, 10, 1.0)
    assert sum(band["reports"] for band in found["table"]) == 40
    assert all(band["reporters"] >= 10 for band in found["table"])
    assert found["shift_low"] < found["shift"] < found["shift_high"]
    assert found["withheld"] is None


def test_what_is_held_is_not_judged(pool, socks) -> None:
    pool.take(pool.sheets.of(*socks(40)))
    made = calibrated(pool)
    later(pool, 40, 10)
    with pool.database.write.begin() as session:
        session.execute(update(Report).values(status="held"))
    assert outcomes(pool, made)["reports"] == 0


def test_scores_that_all_turn_deep_are_drift(pool, socks) -> None:
    pool.take(pool.sheets.of(*socks(200)))
    made = calibrated(pool)
    later(pool, 200, 40, fit_score=2)
    found = outcomes(pool, made)
    assert found["drift"] is True
    assert "deeper than chance explains" in found["text"]


def test_two_calibrations_with_few_people_between_are_judged_on_the_same_reports(
    pool, socks
) -> None:
    pool.take(pool.sheets.of(*socks(40)))
    first = calibrated(pool)
    later(pool, 9, 9, "Between")
    second = calibrated(pool)
    later(pool, 40, 20)
    found = [outcomes(pool, one) for one in (first, second)]
    assert [(one["reports"], one["reporters"]) for one in found] == [(40, 20)] * 2
    assert found[0]["achieved"] == found[1]["achieved"]


def test_two_calibrations_with_enough_people_between_are_judged_apart(pool, socks) -> None:
    pool.take(pool.sheets.of(*socks(40)))
    first = calibrated(pool)
    later(pool, 20, 10, "Between")
    second = calibrated(pool)
    later(pool, 40, 20)
    assert [outcomes(pool, one)["reports"] for one in (first, second)] == [60, 40]


def followed(pool: Any, suggestion_id: str, people: int) -> None:
    """Let the reports of the first so many people have followed a suggestion."""
    chosen = sorted({row.member_id for row in pool.rows(Report)})[-people:]
    with pool.database.write.begin() as session:
        session.execute(
            update(Report)
            .where(Report.member_id.in_(chosen))
            .values(suggestion_id=suggestion_id, created_at=now() + timedelta(seconds=1))
        )


@pytest.mark.parametrize(("people", "parted"), [(9, False), (10, True), (15, True), (16, False)])
def test_what_followed_is_told_apart_where_ten_people_are_in_each_part(
    pool, socks, people: int, *, parted: bool
) -> None:
    pool.take(pool.sheets.of(*socks(40)))
    made = calibrated(pool, activate=True)
    with pool.database.write.begin() as session:
        asked = ask(session, pool.steward, QUESTION)["id"]
    later(pool, 50, 25)
    followed(pool, asked, people)
    found = outcomes(pool, made)
    parts = {band["followed"] for band in found["table"]}
    assert parts == ({True, False} if parted else {None})
    assert all(band["reporters"] >= 10 for band in found["table"])
    assert sum(band["reports"] for band in found["table"]) == found["reports"] == 50
    if parted:
        assert sum(b["reports"] for b in found["table"] if b["followed"]) == 2 * people


def test_a_calibration_of_another_group_cannot_be_found(pool, founding) -> None:
    made = calibrated(pool)
    with pytest.raises(NotFound):
        outcomes(founding(), made)
    assert pool.count(Calibration) == 1


CHANGES = ({"fit_score": 1}, {"heel_stitches": 72}, {"status": "held"}, {"created_at": LONG_AGO})


@pytest.mark.parametrize("changed", CHANGES, ids=lambda changed: next(iter(changed)))
def test_figures_are_worked_out_once_and_again_whatever_changes(
    pool, socks, monkeypatch, changed: dict[str, Any]
) -> None:
    pool.take(pool.sheets.of(*socks(40)))
    made = calibrated(pool, activate=True)
    later(pool, 40, 12)
    working = Mock(wraps=tracking._worked_out)
    monkeypatch.setattr(tracking, "_worked_out", working)
    assert outcomes(pool, made) == outcomes(pool, made)
    assert working.call_count == 1
    last = max(pool.rows(Report), key=lambda row: row.id)
    with pool.database.write.begin() as session:
        # As nobody changes a report: without a new version or moment.
        session.execute(update(Report).where(Report.id == last.id).values(changed))
    told = outcomes(pool, made)
    assert working.call_count == 2
    monkeypatch.setattr(tracking, "_READY", {})
    assert outcomes(pool, made) == told
