"""Figures of calibrations that could tell of fewer than ten people. Nobody here exists."""

from __future__ import annotations

from typing import Any

import pytest

from models.actions import calibrations, cards, judging, publishing
from models.actions.actor import operator
from models.learning.calibration import FEWEST_REPORTERS_SHOWN
from models.tables.socks import Report


def rows(first: int, last: int, **changed: Any) -> list[dict[str, Any]]:
    """Return a report of each of some invented reporters."""
    return [
        {
            "reporter": f"Invented {n}",
            "foot_length_mm": 236 + n,
            "slow_decrease_rounds": n % 5,
            "fit_score": n % 5 - 2,
            **changed,
        }
        for n in range(first, last)
    ]


def take(pool: Any, first: int, last: int, **changed: Any) -> None:
    pool.take(pool.sheets.of(*rows(first, last, **changed)))


def calibrate(pool: Any) -> Any:
    """Return what is shown of a new calibration."""
    actor = operator(pool.group_id)
    with pool.database.read() as reading:
        judged = judging.calibrated(reading, actor)
    with pool.database.write.begin() as session:
        row = calibrations.keep_calibration(session, actor, judged)
        card = cards.read_card(session, actor, row.id)
        return {**calibrations.described(session, row, pool.steward), "card": card}


def is_shown(described: Any) -> bool:
    hidden = [described[name] is None for name in ("coefficients", "noise_variance", "fingerprint")]
    assert len(set(hidden)) == 1
    assert hidden[0] is (described["withheld"] is not None)
    card = described["card"]
    if hidden[0]:
        assert (card["sections"], card["fingerprint"]) == ([], None)
        assert card["withheld"] == described["withheld"]
    return not hidden[0]


def test_nine_people_are_too_few_and_ten_are_enough(pool: Any) -> None:
    assert is_shown(calibrate(pool)), "geometry alone is nobody's"
    take(pool, 0, FEWEST_REPORTERS_SHOWN - 1)
    assert calibrate(pool)["withheld"] == publishing.TOO_FEW
    take(pool, 9, 10)
    assert is_shown(calibrate(pool))


@pytest.mark.parametrize("more", range(1, FEWEST_REPORTERS_SHOWN + 1))
def test_figures_that_differ_by_fewer_than_ten_people_are_not_shown_beside_each_other(
    pool: Any, more: int
) -> None:
    take(pool, 0, 12)
    assert is_shown(calibrate(pool))
    take(pool, 12, 12 + more)
    found = calibrate(pool)
    assert is_shown(found) is (more >= FEWEST_REPORTERS_SHOWN)
    assert found["withheld"] in (None, publishing.TOO_LIKE)
    assert found["reporters"] == 12 + more, "counts are shown: a suggestion says them too"


def test_the_same_reports_again_show_the_same_figures(pool: Any) -> None:
    take(pool, 0, 12)
    one, two = calibrate(pool), calibrate(pool)
    assert is_shown(two)
    assert one["coefficients"] == two["coefficients"]


def test_one_more_report_of_somebody_known_counts_as_one_person_who_differs(pool: Any) -> None:
    take(pool, 0, 12)
    calibrate(pool)
    take(pool, 0, 1, slow_decrease_rounds=6)
    assert not is_shown(calibrate(pool))
    take(pool, 1, 10, slow_decrease_rounds=6)
    assert is_shown(calibrate(pool))


def test_a_correction_and_a_report_taken_back_count_as_a_difference(pool: Any) -> None:
    take(pool, 0, 12)
    calibrate(pool)
    with pool.database.write.begin() as session:
        report = session.query(Report).order_by(Report.id).first()
        report.fit_score = 2
    assert not is_shown(calibrate(pool))
    with pool.database.write.begin() as session:
        session.delete(session.query(Report).order_by(Report.id).first())
    assert not is_shown(calibrate(pool))


def test_no_chain_of_figures_narrows_down_to_fewer(pool: Any) -> None:
    """Each is compared with every one before it, not with the last alone."""
    take(pool, 0, 12)
    calibrate(pool)
    take(pool, 12, 22)
    assert is_shown(calibrate(pool))
    with pool.database.write.begin() as session:  # the ten go, and one of the first twelve
        for report in session.query(Report).order_by(Report.id).offset(11):
            session.delete(report)
    found = calibrate(pool)
    assert found["reporters"] == 11
    assert not is_shown(found), "11 people differ from the last figures, one from the first"


def test_people_are_told_apart_by_what_they_reported() -> None:
    known = {"a": "1", "b": "2"}
    assert publishing.difference(known, known) == 0
    assert publishing.difference(known, {"a": "1", "b": "3", "c": "4"}) == 2
    assert publishing.difference({}, known) == 2


def slices_of(described: Any) -> dict[str, float]:
    """Return the mean score of every slice that a card shows."""
    section = next(one for one in described["card"]["sections"] if one["key"] == "scores_by_depth")
    return {row["label"]: row["value"] for row in section["rows"]}


def at_depth(first: int, last: int, rounds: int, score: int) -> list[dict[str, Any]]:
    """Return a report of each of some reporters on the same foot, worked alike."""
    changed = {"foot_length_mm": 250, "slow_decrease_rounds": rounds, "fit_score": score}
    return rows(first, last, **changed)


def test_a_slice_is_renewed_only_when_ten_people_in_it_are_others(pool: Any) -> None:
    pool.take(pool.sheets.of(*at_depth(0, 12, 1, -1), *at_depth(20, 32, 5, 1)))
    before = slices_of(calibrate(pool))
    assert sorted(before.values()) == [-1, 1]
    # Ten new people: nine in one slice, whose mean would give them away, one in the other.
    pool.take(pool.sheets.of(*at_depth(40, 49, 1, -2), *at_depth(50, 51, 5, 2)))
    after = calibrate(pool)
    assert is_shown(after)
    assert slices_of(after) == before
    pool.take(pool.sheets.of(*at_depth(60, 70, 1, -2)))
    renewed = slices_of(calibrate(pool))
    changed = {label: value for label, value in renewed.items() if before[label] != value}
    assert list(changed.values()) == [pytest.approx((12 * -1 + 19 * -2) / 31)]


def test_a_slice_that_lost_its_people_stays_as_it_was_shown(pool: Any) -> None:
    pool.take(pool.sheets.of(*at_depth(0, 12, 1, -1), *at_depth(20, 32, 5, 1)))
    before = slices_of(calibrate(pool))
    with pool.database.write.begin() as session:
        for report in session.query(Report).filter(Report.fit_score == 1).limit(11):
            report.status = "rejected"
    assert slices_of(calibrate(pool)) == before


def test_slices_of_calibrations_that_are_not_shown_do_not_count_as_shown(pool: Any) -> None:
    pool.take(pool.sheets.of(*at_depth(0, 12, 1, -1)))
    shown = slices_of(calibrate(pool))
    pool.take(pool.sheets.of(*at_depth(20, 25, 1, 2)))
    assert not is_shown(calibrate(pool))
    pool.take(pool.sheets.of(*at_depth(25, 31, 1, 2)))
    (renewed,) = slices_of(calibrate(pool)).values()
    assert [renewed] != [*shown.values()]
    assert renewed == pytest.approx((12 * -1 + 11 * 2) / 23)


@pytest.mark.parametrize(
    ("people", "enough"), [(0, True), (1, False), (9, False), (10, True), (11, True)]
)
def test_nobody_or_ten_people_are_enough(people: int, enough: bool) -> None:  # noqa: FBT001
    assert publishing.enough(people) is enough
    same = {f"o{n}": "1" for n in range(20)}
    new = {f"n{n}": "1" for n in range(people)}
    assert publishing.renewed({**same, **new}, same, 0) is enough
    assert publishing.renewed(same, {**same, **new}, 0) is enough
    assert publishing.renewed(same, same, people) is enough


def test_what_another_group_was_shown_decides_nothing_here(founding: Any) -> None:
    """Their slices are never carried on here, and ours are as if the other group were not."""
    mine, theirs = founding(), founding()
    theirs.take(theirs.sheets.of(*at_depth(0, 12, 1, -1), *at_depth(20, 32, 5, 1)))
    calibrate(theirs)
    mine.take(mine.sheets.of(*at_depth(0, 12, 5, 2)))
    assert list(slices_of(calibrate(mine)).values()) == [2]
