"""Taking files of invented reports in, on both databases."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import date
from io import StringIO

import pytest

from models.actions import import_reports
from models.actions.actor import Actor
from models.actions.csv_chunks import ROWS_AT_ONCE
from models.domain.errors import Forbidden, Invalid
from models.domain.foot import MEASUREMENT_NAMES
from models.domain.roles import Role
from models.tables.people import Member
from models.tables.socks import Design, Foot, Report, Size


def test_every_column_of_a_row_is_stored(pool) -> None:
    row = {
        "decreases_per_round": 3,
        "design": "Invented sock",
        "size": "M",
        "knitted_on": "2025-11-02",
        "times_washed": 3,
        "times_worn": "",
        "notes": "two\nlines",
    }
    assert pool.take(pool.sheets.of(row)).used == 1
    (report,), (foot,) = pool.rows(Report), pool.rows(Foot)
    (member,) = (one for one in pool.rows(Member) if one.id == report.member_id)
    (design,), (size,) = pool.rows(Design), pool.rows(Size)
    assert (report.foot_id, report.version) == (foot.id, 1)
    assert (member.name, design.name, size.label) == ("Alder", "Invented sock", "M")
    assert (report.design_id, report.size_id, size.design_id) == (design.id, size.id, design.id)
    stored = {**vars(foot), **vars(report)}
    expected = {**pool.sheets.sound, **row, "knitted_on": date(2025, 11, 2), "times_worn": None}
    plain = {k: v for k, v in expected.items() if k not in ("reporter", "design", "size")}
    assert {name: stored[name] for name in plain} == plain


def test_empty_cells_of_optional_columns_are_nothing(pool) -> None:
    pool.take(pool.sheets.of({"heel_diagonal_mm": "", "design": "", "notes": " ", "size": ""}))
    (report,), (foot,) = pool.rows(Report), pool.rows(Foot)
    assert foot.heel_diagonal_mm is None
    assert (report.design_id, report.size_id, report.notes) == (None, None, None)
    assert report.decreases_per_round == 4


@pytest.mark.parametrize(
    ("unit", "factor", "lengths"),
    [("cm", 10, (25.1, 23.05, 31.4, "")), ("in", 25.4, (9.875, 9.0625, 12.375, ""))],
)
def test_a_file_in_other_units_equals_one_in_millimetres(pool, unit, factor, lengths) -> None:
    given = dict(zip(MEASUREMENT_NAMES, lengths, strict=True))
    in_mm = {name: value and value * factor for name, value in given.items()}
    pool.take(pool.sheets.of(in_mm))
    again = pool.take(pool.sheets.of(given).replace("_mm", f"_{unit}"))
    assert (again.used, again.known) == (0, 1)  # the same to the last bit
    (foot,) = pool.rows(Foot)
    assert [getattr(foot, name) for name in given] == [mm or None for mm in in_mm.values()]


def test_one_wrong_row_keeps_all_others_out(pool, socks) -> None:
    outcome = pool.refusal(pool.sheets.of(*socks(5), {"fit_score": 9}, *socks(5)))
    assert [fault.row for fault in outcome.faults] == [7]
    assert (outcome.left_out, outcome.faults_in_all) == (1, 1)
    for table in (Report, Foot, Design):
        assert pool.count(table) == 0
    assert pool.count(Member) == 1  # the steward


@pytest.mark.only_on("sqlite")
def test_good_rows_before_a_late_wrong_one_are_taken_back(pool) -> None:
    rows = [pool.sheets.line] * (ROWS_AT_ONCE + 1)
    content = "\n".join([pool.sheets.headings, *rows, pool.sheets.line[:-1] + "9"])
    assert pool.refusal(content).left_out == 1
    assert (pool.count(Report), pool.count(Foot), pool.count(Member)) == (0, 0, 1)


def test_good_rows_can_be_kept_without_the_others(pool, socks) -> None:
    rows = [*socks(3), {"fit_score": 9, "foot_length_mm": -1}, *socks(6)[3:]]
    outcome = pool.take(pool.sheets.of(*rows), keep_good=True)
    assert (outcome.used, outcome.left_out, outcome.faults_in_all) == (6, 1, 2)
    assert {fault.row for fault in outcome.faults} == {5}
    assert pool.count(Report) == 6


def test_a_file_of_wrong_rows_only_leaves_nothing_behind_even_when_good_ones_are_kept(
    pool,
) -> None:
    outcome = pool.take(pool.sheets.of({"fit_score": 9}), keep_good=True)
    assert (outcome.used, outcome.left_out) == (0, 1)
    assert (pool.count(Report), pool.count(Foot), pool.count(Member)) == (0, 0, 1)


def test_a_file_taken_in_twice_changes_nothing(pool, socks) -> None:
    content = pool.sheets.of(*socks(20))
    assert pool.take(content).known == 0
    before = pool.export()
    outcome = pool.take(content)
    assert (outcome.known, outcome.used) == (20, 0)
    assert pool.export() == before


def test_a_sheet_that_has_grown_adds_only_its_new_rows(pool, socks) -> None:
    pool.take(pool.sheets.of(*socks(20)))
    outcome = pool.take(pool.sheets.of(*socks(23)))
    assert (outcome.known, outcome.used, pool.count(Report)) == (20, 3, 23)


def test_of_three_equal_rows_two_are_known_where_two_are_stored(pool, socks) -> None:
    (sock,) = socks(1)
    pool.take(pool.sheets.of(sock, sock))
    outcome = pool.take(pool.sheets.of(sock, sock, sock))
    assert (outcome.known, outcome.used, pool.count(Report)) == (2, 1, 3)


def test_what_was_kept_of_a_wrong_file_is_not_taken_twice_when_it_is_mended(pool, socks) -> None:
    wrong = pool.sheets.of(*socks(4), {"fit_score": 9})
    pool.take(wrong, keep_good=True)
    outcome = pool.take(wrong.replace(",9\n", ",1\n"))
    assert (outcome.known, outcome.used, pool.count(Report)) == (4, 1, 5)


def test_a_row_that_is_only_unusual_is_used_and_doubted(pool) -> None:
    # 300 and 238 mm: by the survey such a foot has a heel diagonal near 356 mm, not 280.
    odd = {"foot_length_mm": 300, "foot_circumference_mm": 238, "heel_diagonal_mm": 280}
    outcome = pool.take(pool.sheets.of(odd, {"stitches_per_10cm": 8, "rounds_per_10cm": 11}))
    assert outcome.used == 2
    assert {(d.row, d.fault.field) for d in outcome.doubts} == {
        (2, "heel_diagonal_mm"),
        (3, "stitches_per_10cm"),
    }


def test_a_file_taken_in_twice_at_once_is_taken_in_once(pool, socks) -> None:
    content = pool.sheets.of(*socks(200))
    with ThreadPoolExecutor(4) as many:
        outcomes = list(many.map(pool.take, [content] * 4))
    assert sorted(outcome.known for outcome in outcomes) == [0, 200, 200, 200]
    assert pool.count(Report) == 200


def test_a_refused_file_can_be_mended_and_taken_in(pool, socks) -> None:
    wrong = pool.sheets.of(*socks(4), {"fit_score": 9})
    pool.refusal(wrong)
    assert pool.take(wrong.replace(",9\n", ",1\n")).used == 5


def test_each_group_takes_the_same_file_for_itself(pool, founding, socks) -> None:
    content, other = pool.sheets.of(*socks(8)), founding()
    assert (pool.take(content).used, other.take(content).used) == (8, 8)
    assert pool.export() == other.export()
    assert not {foot.id for foot in pool.rows(Foot)} & {foot.id for foot in other.rows(Foot)}


def test_the_same_measurements_of_one_reporter_are_one_foot(pool) -> None:
    other_foot = {"heel_diagonal_mm": "", "reporter": "Birch"}
    rows = [{}, {"fit_score": 1}, {"reporter": "Birch"}, {"heel_diagonal_mm": ""}, other_foot, {}]
    pool.take(pool.sheets.of(*rows))
    assert (pool.count(Report), pool.count(Foot), pool.count(Member)) == (6, 4, 3)
    assert len({report.foot_id for report in pool.rows(Report)}) == 4


@pytest.mark.only_on("sqlite")
def test_a_foot_goes_on_over_pieces_of_a_long_file(pool) -> None:
    rows = [pool.sheets.line] * (ROWS_AT_ONCE + 2)
    pool.take("\n".join([pool.sheets.headings, *rows]))
    assert (pool.count(Report), pool.count(Foot)) == (len(rows), 1)


def test_designs_and_sizes_are_made_once(pool) -> None:
    named = [("One", "S"), ("One", "M"), ("Two", "S"), ("One", "S"), ("Two", ""), ("", "")]
    content = pool.sheets.of(*({"design": d, "size": s} for d, s in named))
    pool.take(content)
    more = pool.take(pool.sheets.of({"design": "One", "size": "S", "notes": "another"}))
    assert more.used == 1
    assert (pool.count(Design), pool.count(Size)) == (2, 3)
    assert len([report for report in pool.rows(Report) if report.size_id]) == 5


def test_a_reporter_is_the_same_however_the_letters_are_composed(pool) -> None:
    pool.take(pool.sheets.of({"reporter": "Zoe\u0308"}, {"reporter": " Zo\u00eb "}))
    assert sorted(member.name for member in pool.rows(Member)) == ["Invented steward", "Zo\u00eb"]


def test_reports_keep_the_order_of_the_file(pool) -> None:
    pool.take(pool.sheets.of(*({"notes": f"row {n}"} for n in range(300))))
    notes = [line.rpartition(",")[2] for line in pool.export().splitlines()[1:]]
    assert notes == [f"row {n}" for n in range(300)]


def test_progress_counts_reading_every_row_and_taking_it_in(pool, socks) -> None:
    seen: list[int] = []
    said: list[int] = []
    path = pool.sheets.file(pool.sheets.of(*socks(7)))
    with (
        import_reports.read_first(path, out_of=said.append, progress=seen.append) as chunks,
        pool.database.write.begin() as session,
    ):
        import_reports.take_in(session, pool.steward, chunks, progress=seen.append)
    assert sum(seen) == sum(said) == 14


def test_a_knitter_may_not_import(pool) -> None:
    knitter = Actor(pool.group_id, Role.KNITTER, pool.steward.member_id, "Invented knitter")
    with pool.database.write.begin() as session, pytest.raises(Forbidden):
        import_reports.take_in(session, knitter, [])


@pytest.mark.only_on("sqlite")
def test_no_more_than_a_thousand_faults_are_kept(pool) -> None:
    rows = [pool.sheets.line[:-1] + "9"] * 1200
    outcome = pool.refusal("\n".join([pool.sheets.headings, *rows]))
    assert (len(outcome.faults), outcome.faults_in_all) == (1000, 1200)


@pytest.mark.parametrize("content", ["", "colour\nred\n"])
def test_a_file_that_is_no_table_of_reports_changes_nothing(pool, content: str) -> None:
    with pytest.raises(Invalid):
        pool.take(content, keep_good=True)


def test_a_group_without_reports_exports_headings(pool) -> None:
    (head,) = StringIO(pool.export()).readlines()
    assert head.startswith(pool.sheets.headings)
