"""What a group has learned, once somebody is erased. All names are invented."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy import func, or_, select, update

from models.actions import activations, calibrations, erasing, judging, screening, streams
from models.actions.activations import active_id
from models.actions.aftermath import resting_on
from models.actions.erasing import Leaving
from models.actions.evidence import evidence_of
from models.domain.errors import Conflict
from models.tables.base import Base
from models.tables.erased import Erasure, ShownFigures, ShownSlice
from models.tables.learned import Activation, Calibration
from models.tables.people import Member
from models.tables.socks import Report
from service.erasing import TRIES, erase_now

COPIED = {
    "foot_length_mm": 251.7,
    "foot_circumference_mm": 233.3,
    "heel_diagonal_mm": 317.9,
    "ankle_circumference_mm": 221.2,
}


def calibrate(pool: Any) -> Calibration:
    with pool.database.read() as session:
        doubts = screening.doubtful(session, pool.steward)
    with pool.database.write.begin() as session:
        screening.hold(session, pool.steward, doubts)
    with pool.database.read() as session:
        found = judging.calibrated(session, pool.steward)
    with pool.database.write.begin() as session:
        return calibrations.keep_calibration(session, pool.steward, found)


def place(pool: Any, name: str) -> Leaving:
    [row] = [one for one in pool.rows(Member) if one.name == name]
    return Leaving({pool.group_id: {row.id: row.person_id}})


def active(pool: Any) -> str | None:
    with pool.database.read() as session:
        return active_id(session, pool.group_id)


def take(pool: Any, socks: Any, names: tuple[str, ...]) -> None:
    told = socks(4 * len(names), len(names))
    pool.take(
        pool.sheets.of(*({**row, "reporter": names[n % len(names)]} for n, row in enumerate(told)))
    )


def test_what_was_learned_before_somebody_came_answers_again_until_it_is_learned_anew(
    pool: Any, socks: Any
) -> None:
    take(pool, socks, ("Alder", "Birch"))
    first = calibrate(pool)
    pool.take(pool.sheets.of(*({**row, "reporter": "Cedar"} for row in socks(30)[20:])))
    second = calibrate(pool)
    done = erase_now(pool.database, place(pool, "Cedar"))
    assert {row.id for row in pool.rows(Calibration)} == {first.id, *done.calibrations.values()}
    assert second.id not in done.calibrations.values()
    assert active(pool) == done.calibrations[pool.group_id]
    anew = max(pool.rows(Calibration), key=lambda row: row.created_at)
    assert anew.artefact == first.artefact
    assert {row.calibration_id for row in pool.rows(Activation)} == {first.id, anew.id}


def test_who_never_reported_takes_no_calibration_along(pool: Any, socks: Any) -> None:
    take(pool, socks, ("Alder", "Birch"))
    made = calibrate(pool)
    with pool.database.write.begin() as session:
        session.add(Member(group_id=pool.group_id, name="Dogwood", role="knitter"))
    done = erase_now(pool.database, place(pool, "Dogwood"))
    assert done.calibrations == {}
    assert [row.id for row in pool.rows(Calibration)] == [made.id]


def test_after_the_only_reporter_geometry_answers(pool: Any, socks: Any) -> None:
    take(pool, socks, ("Alder",))
    calibrate(pool)
    done = erase_now(pool.database, place(pool, "Alder"))
    assert (done.rows["reports"], done.calibrations) == (4, {})
    assert active(pool) is None
    assert [pool.count(table) for table in (Calibration, Activation, Report)] == [0, 0, 0]


@pytest.mark.parametrize("most", [streams.MOST_IN_MEMORY, 3])
def test_a_report_held_as_a_copy_of_what_is_erased_counts_again(
    pool: Any, socks: Any, monkeypatch: pytest.MonkeyPatch, most: int
) -> None:
    monkeypatch.setattr(streams, "MOST_IN_MEMORY", most)
    monkeypatch.setattr(streams, "REPORTS_OF_A_BLOCK", 3)
    take(pool, socks, ("Alder", "Birch"))
    rows = [{"reporter": name, **COPIED} for name in ("Cedar", "Dogwood", "Elm")]
    pool.take(pool.sheets.of(*rows))
    calibrate(pool)
    held = {row.id for row in pool.rows(Report) if row.status == "held"}
    assert len(held) == 2, "Cedar's was first"
    erase_now(pool.database, place(pool, "Cedar"))
    left = {row.id: row.status for row in pool.rows(Report) if row.id in held}
    assert sorted(left.values()) == ["counted", "held"], "Elm's is a copy of Dogwood's still"
    assert max(pool.rows(Calibration), key=lambda row: row.number).reports == 9
    with pool.database.read() as session:
        assert evidence_of(session, pool.group_id).reports == 9


def test_what_changes_meanwhile_is_learned_as_well(
    pool: Any, socks: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Somebody else reports whenever it was just worked out: at last nobody is let in between."""
    take(pool, socks, ("Alder", "Birch"))
    calibrate(pool)
    prepared, more = erasing.prepare, iter(socks(60)[30:])
    tries = 0

    def interrupted(session: Any, leaving: Leaving) -> Any:
        nonlocal tries
        found, tries = list(prepared(session, leaving)), tries + 1
        if tries <= TRIES:
            pool.take(pool.sheets.of({**next(more), "reporter": "Fir"}))
        return found

    monkeypatch.setattr("service.erasing.prepare", interrupted)
    done = erase_now(pool.database, place(pool, "Alder"))
    assert tries == TRIES + 1
    [row] = [one for one in pool.rows(Calibration) if one.id in done.calibrations.values()]
    assert row.reports == 4 + TRIES
    with pool.database.read() as session:
        assert evidence_of(session, pool.group_id).fingerprint() == row.fingerprint


def test_a_calibration_that_was_worked_out_with_somebody_is_not_kept_without_them(
    pool: Any, socks: Any
) -> None:
    take(pool, socks, ("Alder", "Birch"))
    with pool.database.read() as session:
        found = judging.calibrated(session, pool.steward)
    erase_now(pool.database, place(pool, "Alder"))
    with pool.database.write() as session, pytest.raises(Conflict, match="erased"):
        calibrations.keep_calibration(session, pool.steward, found)
    assert pool.rows(Calibration) == []


def test_calibrations_that_do_not_say_from_whom_go_if_they_could_have_learned_from_somebody(
    pool: Any, socks: Any
) -> None:
    take(pool, socks, ("Alder",))
    before = calibrate(pool)
    take(pool, lambda n, k: socks(n + 12, k)[12:], ("Birch",))
    after = calibrate(pool)
    with pool.database.write.begin() as session:
        for row in session.scalars(select(Calibration)):
            row.people = None
    gone = place(pool, "Birch").places[pool.group_id]
    with pool.database.read() as session:
        assert resting_on(session, pool.group_id, gone) == {after.id}
    erase_now(pool.database, place(pool, "Birch"))
    assert before.id in {row.id for row in pool.rows(Calibration)}


def test_of_shown_figures_no_more_is_kept_than_how_many_are_gone(pool: Any, socks: Any) -> None:
    take(pool, socks, tuple(f"Invented {n}" for n in range(12)))
    assert calibrate(pool).published
    leaving = [place(pool, f"Invented {n}") for n in range(2)]
    for one in leaving:
        erase_now(pool.database, one)
    [kept] = pool.rows(ShownFigures)
    assert (kept.erased, len(kept.people)) == (2, 10)
    gone = {member for one in leaving for member in one.places[pool.group_id]}
    assert not gone & kept.people.keys()
    with pool.database.read() as session:
        digests = session.scalar(select(func.count()).select_from(Erasure))
        assert digests == 2


SHALLOW, DEEP = {"slow_decrease_rounds": 1}, {"slow_decrease_rounds": 5}
"""Two slices of socks on one foot."""


def knit(pool: Any, numbers: range, slice_: dict[str, int], score: int) -> None:
    """Take a report of each of some invented reporters, all in one slice."""
    told = {"foot_length_mm": 250, "fit_score": score, **slice_}
    pool.take(pool.sheets.of(*({"reporter": f"Invented {n}", **told} for n in numbers)))


def slices_of(row: Calibration) -> dict[int, float]:
    assert row.published
    return {one["number"]: one["reported"] for one in row.diagnostics["figures"]["slices"]}


def test_a_slice_shown_with_somebody_waits_until_ten_others_are_in_it(pool: Any) -> None:
    knit(pool, range(12), SHALLOW, -1)
    knit(pool, range(20, 32), DEEP, 1)
    before = slices_of(calibrate(pool))
    shallow, deep = sorted(before)
    erase_now(pool.database, place(pool, "Invented 0"))
    assert not max(pool.rows(Calibration), key=lambda row: row.number).published
    knit(pool, range(40, 50), DEEP, 2)
    assert slices_of(calibrate(pool)) == {deep: pytest.approx((12 * 1 + 10 * 2) / 22)}
    knit(pool, range(60, 69), SHALLOW, -2)
    knit(pool, range(70, 80), DEEP, 2)
    assert shallow not in slices_of(calibrate(pool)), "nine came and one went"
    knit(pool, range(80, 81), SHALLOW, -2)
    knit(pool, range(90, 100), DEEP, 2)
    assert slices_of(calibrate(pool))[shallow] == pytest.approx((11 * -1 + 10 * -2) / 21)


def test_a_slice_carried_on_holds_nobody_who_is_erased(pool: Any) -> None:
    """A calibration without somebody's reports may still show a slice of before, with them."""
    knit(pool, range(12), SHALLOW, -1)
    knit(pool, range(20, 32), DEEP, 1)
    first = calibrate(pool)
    shallow, deep = sorted(slices_of(first))
    leaving = place(pool, "Invented 0")
    [gone] = leaving.places[pool.group_id]
    with pool.database.write.begin() as session:
        session.execute(update(Report).where(Report.member_id == gone).values(status="rejected"))
    knit(pool, range(40, 50), DEEP, 1)
    second = calibrate(pool)
    assert gone not in second.people
    carried = {one["number"]: one for one in second.diagnostics["figures"]["slices"]}
    assert gone in carried[shallow]["people"]
    erase_now(pool.database, leaving)
    [left] = pool.rows(Calibration)
    assert left.id == second.id
    assert [*slices_of(left)] == [deep]
    assert gone not in repr(left.diagnostics)
    kept = {row.number: (len(row.people), row.erased) for row in pool.rows(ShownSlice)}
    assert kept == {shallow: (11, 1), deep: (12, 0)}
    knit(pool, range(50, 60), DEEP, 1)
    assert shallow not in slices_of(calibrate(pool))


@pytest.mark.only_on("postgresql")
def test_what_answers_is_looked_for_again_where_it_was_erased_since_its_id_was_read(
    pool: Any, socks: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    take(pool, socks, ("Alder", "Birch"))
    erased, known = calibrate(pool).id, []

    def read(session: Any, group_id: str) -> str | None:
        known.append(active_id(session, group_id))
        if len(known) == 1:
            erase_now(pool.database, place(pool, "Alder"))
        return known[-1]

    monkeypatch.setattr(activations, "_READY", {})
    monkeypatch.setattr(activations, "active_id", read)
    with pool.database.write() as session:
        found, fitted = activations.active(session, pool.group_id)
    assert known[0] == erased
    assert (found, fitted.reports) == (active(pool), 4)


def rows_of(pool: Any) -> dict[str, list[tuple[Any, ...]]]:
    """Return every row of every table that belongs to a group or to its people."""
    found = {}
    with pool.database.read() as session:
        places = select(Member.id).where(Member.group_id == pool.group_id)
        persons = select(Member.person_id).where(Member.group_id == pool.group_id)
        for table in Base.metadata.sorted_tables:
            columns = table.columns
            conditions = [
                columns[name].in_(whose)
                for name, whose in (("member_id", places), ("person_id", persons))
                if name in columns
            ]
            if "group_id" in columns:
                conditions.append(columns["group_id"] == pool.group_id)
            if table.name == "groups":
                conditions.append(columns["id"] == pool.group_id)
            if conditions:
                rows = session.execute(select(table).where(or_(*conditions)))
                found[table.name] = sorted(map(tuple, rows), key=repr)
    return found


def test_another_group_that_works_is_untouched_to_the_byte(founding: Any) -> None:
    """It has people, reports, calibrations with slices, activations and figures kept of before."""
    mine, theirs = founding(), founding()
    for pool in (mine, theirs):
        knit(pool, range(12), SHALLOW, -1)
        calibrate(pool)
        knit(pool, range(20, 32), DEEP, 1)
        calibrate(pool)
    erase_now(theirs.database, place(theirs, "Invented 0"))
    knit(theirs, range(40, 52), DEEP, 1)
    calibrate(theirs)
    before = rows_of(theirs)
    assert {"members", "reports", "feet", "calibrations", "activations"} <= {
        name for name, rows in before.items() if rows
    }
    assert before["shown_slices"]
    erase_now(mine.database, place(mine, "Invented 20"))
    erase_now(mine.database, place(mine, "Invented 0"))
    assert rows_of(theirs) == before
