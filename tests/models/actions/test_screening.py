"""Doubtful reports are held before a calibration learns, on both databases. All are invented."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from typing import Any

import pytest
from sqlalchemy import text, update

from models.actions import received, reports, reviews, screening, streams
from models.actions.actor import Actor
from models.actions.evidence import evidence_of
from models.domain.errors import Forbidden
from models.domain.reviews import Reason, Status
from models.domain.roles import Role
from models.tables.socks import Report, Review

FINE = {
    "foot_length_mm": 251.3,
    "foot_circumference_mm": 231.7,
    "heel_diagonal_mm": 313.9,
    "ankle_circumference_mm": 219.2,
}
LATE = datetime(2026, 1, 31, 23, 30, tzinfo=UTC)
COPIED = [{"reporter": "Alder", **FINE}, {"reporter": "Birch", **FINE}]


def screened(pool: Any) -> int:
    """Hold what is doubtful, the way a calibration does."""
    found = doubts(pool)
    with pool.database.write.begin() as session:
        return screening.hold(session, pool.steward, found)


def doubts(pool: Any) -> list[screening.Doubt]:
    with pool.database.read() as session:
        return screening.doubtful(session, pool.steward)


def statuses(pool: Any) -> list[str]:
    return [row.status for row in sorted(pool.rows(Report), key=lambda row: row.id)]


def decided(pool: Any, status: Status, since: Status = Status.HELD) -> None:
    """Decide every report that has a status."""
    with pool.database.write.begin() as session:
        for row in pool.rows(Report):
            if row.status == since:
                reviews.review(session, pool.steward, row.id, status, since=since)


def corrected(pool: Any, report_id: str, **changed: Any) -> None:
    with pool.database.write.begin() as session:
        report = reports.own_report(session, pool.steward, report_id)
        reports.amend_report(session, pool.steward, report, changed)


def test_a_sound_pool_is_left_as_it_is(pool, socks) -> None:
    pool.take(pool.sheets.of(*socks(60)))
    assert screened(pool) == 0
    assert set(statuses(pool)) == {"counted"}
    assert pool.count(Review) == 0


def test_a_group_without_reports_has_nothing_to_hold(pool) -> None:
    assert screened(pool) == 0


def test_a_copy_is_held_with_its_reason_and_not_learned_from(pool, founding) -> None:
    pool.take(pool.sheets.of(*COPIED))
    founding().take(pool.sheets.of(*COPIED))
    assert screened(pool) == 1
    assert statuses(pool) == ["counted", "held"]
    held = max(pool.rows(Report), key=lambda row: row.id)
    found = [(r.report_id, r.status, r.reason, r.member_id) for r in pool.rows(Review)]
    assert found == [(held.id, "held", Reason.COPY.value, None)]
    assert held.version == 2
    with pool.database.read() as session:
        assert evidence_of(session, pool.group_id).reports == 1


def test_screening_again_changes_nothing(pool) -> None:
    pool.take(pool.sheets.of(*COPIED))
    assert (screened(pool), screened(pool)) == (1, 0)
    assert pool.count(Review) == 1


def test_screenings_at_once_hold_each_report_once(pool) -> None:
    pool.take(pool.sheets.of(*COPIED))
    with ThreadPoolExecutor(6) as many:
        assert sum(many.map(screened, [pool] * 6)) == 1
    assert pool.count(Review) == 1


@pytest.mark.parametrize("status", [Status.ACCEPTED, Status.REJECTED])
def test_what_a_steward_has_looked_at_is_not_held_again(pool, status: Status) -> None:
    pool.take(pool.sheets.of(*COPIED))
    screened(pool)
    decided(pool, status)
    assert screened(pool) == 0
    assert statuses(pool) == ["counted", status.value]


def test_what_was_changed_or_deleted_since_it_was_read_is_left(pool) -> None:
    pool.take(pool.sheets.of(*COPIED, {"reporter": "Cedar", **FINE}))
    read = doubts(pool)
    assert len(read) == 2
    corrected(pool, read[0].report_id, fit_score=2)
    with pool.database.write.begin() as session:
        gone = reports.own_report(session, pool.steward, read[1].report_id)
        reports.delete_report(session, gone)
    with pool.database.write.begin() as session:
        assert screening.hold(session, pool.steward, read) == 0
    assert statuses(pool) == ["counted", "counted"]
    assert pool.count(Review) == 0


def test_the_odd_measurement_of_an_implausible_foot_is_named(pool) -> None:
    pool.take(pool.sheets.of({"heel_diagonal_mm": 405}))
    assert screened(pool) == 1
    (found,) = pool.rows(Review)
    assert found.reason == Reason.IMPLAUSIBLE_FOOT.value
    assert found.text.startswith("heel_diagonal_mm is 405")


def test_a_flood_of_more_than_one_statement_holds_is_held_as_a_whole(pool, socks) -> None:
    plain = {"heel_diagonal_mm": "", "ankle_circumference_mm": "", "fit_score": 0}
    pool.take(pool.sheets.of(*({**sock, **plain} for sock in socks(450, 1))))
    assert screened(pool) == 450
    assert {row.reason for row in pool.rows(Review)} == {Reason.FLOODING.value}
    assert set(statuses(pool)) == {"held"}


@pytest.mark.parametrize("status", [Status.HELD, Status.ACCEPTED, Status.REJECTED])
def test_known_reports_are_known_whatever_became_of_them(pool, status: Status) -> None:
    sheet = pool.sheets.of(*COPIED)
    pool.take(sheet)
    screened(pool)
    if status is not Status.HELD:
        decided(pool, status)
    again = pool.take(sheet)
    assert (again.used, again.known) == (0, 2)
    assert statuses(pool) == ["counted", status.value]


def test_the_export_has_all_reports_whatever_became_of_them(pool) -> None:
    pool.take(pool.sheets.of(*COPIED))
    before = pool.export()
    screened(pool)
    decided(pool, Status.REJECTED)
    assert pool.export() == before


@pytest.mark.parametrize(
    ("since", "until"),
    [(Status.HELD, "counted"), (Status.REJECTED, "held"), (Status.ACCEPTED, "held")],
)
def test_a_correction_answers_a_doubt_and_undoes_a_decision(pool, since: Status, until) -> None:
    pool.take(pool.sheets.of(*COPIED))
    screened(pool)
    if since is not Status.HELD:
        decided(pool, since)
    (report_id,) = (row.id for row in pool.rows(Report) if row.status == since)
    corrected(pool, report_id, notes="the invented yarn was blue", times_worn=3, fit_score=0)
    assert statuses(pool) == ["counted", since.value]
    corrected(pool, report_id, fit_score=1)
    assert statuses(pool) == ["counted", until]
    last = max(pool.rows(Review), key=lambda row: row.id)
    assert (last.status, last.member_id) == (until, pool.steward.member_id)
    assert last.text.startswith("corrected")


def every_doubt(socks) -> list[dict[str, Any]]:
    """Return sound reports, and some of every kind that is held."""
    rounded = {**FINE, "foot_length_mm": 250, "foot_circumference_mm": 230, "yarn_weight": 2}
    shared = [
        {**rounded, "heel_diagonal_mm": mm, "ankle_circumference_mm": 220} for mm in (310, 315)
    ]
    plain = {"heel_diagonal_mm": "", "ankle_circumference_mm": "", "fit_score": 0}
    return [
        *socks(60, 12),
        *COPIED,
        *({"reporter": name, **sock} for name in ("Dogwood", "Elder") for sock in shared),
        *({"reporter": "Fir", "foot_length_mm": 241.2, "knitted_on": "2026-03-01"} for _ in "four"),
        {"reporter": "Gorse", "heel_diagonal_mm": 405},
        *({**sock, **plain, "reporter": "Hazel"} for sock in socks(120, 1)),
        *(
            {"reporter": "Ivy", "foot_length_mm": 240 + n / 3, "fit_score": 2 - n % 5}
            | {"slow_decrease_rounds": 2 * (n % 5), "heel_stitches": 72}
            for n in range(60)
        ),
    ]


def test_large_groups_are_searched_in_blocks_with_the_same_doubts(pool, socks, monkeypatch) -> None:
    pool.take(pool.sheets.of(*every_doubt(socks)))
    whole = doubts(pool)
    assert {doubt.reason for doubt in whole} == {*Reason}
    monkeypatch.setattr(streams, "MOST_IN_MEMORY", 0)
    monkeypatch.setattr(received, "READ_AT_ONCE", 37)
    for number in (1, 7, 30, 100):
        monkeypatch.setattr(streams, "REPORTS_OF_A_BLOCK", number)
        assert doubts(pool) == whole


def test_a_knitter_may_neither_look_for_doubts_nor_hold(pool) -> None:
    knitter = Actor(pool.group_id, Role.KNITTER, pool.steward.member_id, "Invented knitter")
    with pool.database.read() as session, pytest.raises(Forbidden):
        screening.doubtful(session, knitter)
    with pool.database.write.begin() as session, pytest.raises(Forbidden):
        screening.hold(session, knitter, [])


@pytest.mark.only_on("postgresql")
@pytest.mark.parametrize("zone", ["UTC", "Pacific/Kiritimati", "Etc/GMT+12"])
def test_the_day_on_which_a_report_came_is_that_of_utc(pool, socks, zone: str) -> None:
    pool.take(pool.sheets.of(*socks(1)))
    with pool.database.write.begin() as session:
        session.execute(update(Report).values(knitted_on=None, created_at=LATE))
    with pool.database.read() as session:
        session.execute(text(f"SET LOCAL TIME ZONE '{zone}'"))
        condition = Report.group_id == pool.group_id
        (rows,) = received.received(session, condition, [], most=10)
    assert [int(row[2]) for row in rows] == [LATE.date().toordinal()]
