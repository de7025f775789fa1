"""When a new calibration answers by itself, when it waits, and going back."""

from __future__ import annotations

from datetime import timedelta

import pytest

from models.actions import activations, calibrations, judging
from models.actions.activations import ROLLED_BACK, History
from models.actions.actor import operator
from models.domain.errors import Conflict, Outdated
from models.learning.challenge import TOO_FEW
from models.tables.base import now
from models.tables.learned import Activation, Calibration
from models.tables.socks import Report


def judged(pool) -> judging.Judged:
    with pool.database.read() as session:
        return judging.calibrated(session, pool.steward)


def kept(pool, found: judging.Judged | None = None) -> Calibration:
    found = found or judged(pool)
    with pool.database.write.begin() as session:
        return calibrations.keep_calibration(session, pool.steward, found)


def shown(pool, row: Calibration) -> dict:
    with pool.database.read() as session:
        return calibrations.summary(session, session.get_one(Calibration, row.id), pool.steward)


def chosen(pool, row: Calibration, **reason: str) -> None:
    with pool.database.write.begin() as session:
        activations.activate(session, pool.steward, row.id, **reason)


def back(pool) -> Calibration:
    with pool.database.write.begin() as session:
        return activations.roll_back(session, pool.steward)


def turned_round(socks: list[dict], **changed: object) -> list[dict]:
    """Return other people's socks with the scores of these the wrong way round."""
    return [
        {**sock, "fit_score": -sock["fit_score"], "reporter": f"Turned {sock['reporter']}"}
        | changed
        for sock in socks
    ]


@pytest.fixture
def told(socks):
    """Return reports in which deeper socks were felt as deeper."""

    def made(number: int, reporters: int) -> list[dict]:
        return [
            {**sock, "fit_score": min(max(sock["slow_decrease_rounds"] - 3, -2), 2)}
            for sock in socks(number, reporters)
        ]

    return made


def test_below_ten_people_it_answers_without_comparison(pool, socks) -> None:
    pool.take(pool.sheets.of(*socks(60, 9)))
    made = shown(pool, kept(pool))
    assert (made["standing"], made["reasons"]) == ("active", [TOO_FEW])
    (row,) = pool.rows(Activation)
    assert (row.member_id, row.reason) == (None, TOO_FEW)


def test_more_of_the_same_answers_by_itself_and_says_why(pool, told) -> None:
    pool.take(pool.sheets.of(*told(200, 25)))
    first = kept(pool)
    pool.take(pool.sheets.of(*told(230, 25)))
    second = shown(pool, kept(pool))
    assert (second["reports"], second["standing"]) == (230, "active")
    assert second["reasons"][0].startswith(
        "not worse than the active calibration and geometry alone"
    )
    assert shown(pool, first)["standing"] == "replaced"


def test_a_spoiled_one_waits_until_it_is_chosen_all_the_same(pool, told) -> None:
    pool.take(pool.sheets.of(*told(200, 25)))
    first = kept(pool)
    pool.take(pool.sheets.of(*turned_round(told(300, 30))))
    made = kept(pool)
    waiting = shown(pool, made)
    assert (waiting["standing"], shown(pool, first)["standing"]) == ("waiting", "active")
    assert any("reports known before" in reason for reason in waiting["reasons"])
    chosen(pool, made)
    assert shown(pool, made)["reasons"] == ["chosen by a designer", *waiting["reasons"]]
    last = max(pool.rows(Activation), key=lambda row: row.id)
    assert (last.calibration_id, last.member_id) == (made.id, pool.steward.member_id)


def test_nothing_is_lost_where_another_was_activated_while_it_was_compared(pool, socks) -> None:
    pool.take(pool.sheets.of(*socks(30)))
    late = judged(pool)
    first = kept(pool)
    second = shown(pool, kept(pool, late))
    assert second["standing"] == "waiting"
    assert second["reasons"] == [calibrations.OVERTAKEN]
    assert shown(pool, first)["standing"] == "active"


def test_the_rows_an_active_calibration_has_seen_are_those_not_changed_since(pool, told) -> None:
    pool.take(pool.sheets.of(*told(200, 25)))
    made = kept(pool)
    with pool.database.write.begin() as session:
        some = session.query(Report).filter_by(group_id=pool.group_id).limit(80).all()
        for report in some:
            report.updated_at = now() + timedelta(seconds=1)
    known = {gap["reports"] for gap in judged(pool).diagnostics["gaps"] if _known(gap)}
    assert known == {120}
    with pool.database.write.begin() as session:
        session.get_one(Calibration, made.id).diagnostics = None
    assert {gap["reports"] for gap in judged(pool).diagnostics["gaps"] if _known(gap)} == {120}


def _known(gap: dict) -> bool:
    whole = (gap["measure"], gap["band"]) == ("log score", None)
    return whole and gap["scope"] == "reports known before"


def test_rolling_back_twice_goes_back_two_and_then_there_is_nothing(pool, socks) -> None:
    made = []
    for number in (10, 20, 30):
        pool.take(pool.sheets.of(*socks(number, 3)))
        made.append(kept(pool))
    assert [back(pool).id, back(pool).id] == [made[1].id, made[0].id]
    with pytest.raises(Conflict, match="nothing to go back to"):
        back(pool)
    assert shown(pool, made[0])["standing"] == "active"


def test_a_group_without_any_calibration_has_nothing_to_go_back_to(pool) -> None:
    with pytest.raises(Conflict, match="nothing to go back to"):
        back(pool)


def test_what_was_rolled_back_is_not_brought_back_by_equal_evidence(pool, socks) -> None:
    for number in (10, 20):
        pool.take(pool.sheets.of(*socks(number, 3)))
        kept(pool)
    back(pool)
    again = kept(pool)
    assert shown(pool, again)["standing"] == "waiting"
    assert shown(pool, again)["reasons"] == [
        "the same reports gave calibration 2, which was rolled back"
    ]
    chosen(pool, again, reason="looked at by hand")
    pool.take(pool.sheets.of(*socks(30, 3)))
    assert shown(pool, kept(pool))["standing"] == "active"


def test_an_outdated_calibration_is_not_gone_back_to(pool, socks) -> None:
    for number in (10, 20):
        pool.take(pool.sheets.of(*socks(number, 3)))
        made = kept(pool)
    (first,) = (row for row in pool.rows(Calibration) if row.number == 1)
    with pool.database.write.begin() as session:
        row = session.get_one(Calibration, first.id)
        row.artefact = {**row.artefact, "estimator": "an older one"}
    with pytest.raises(Outdated):
        back(pool)
    assert shown(pool, made)["standing"] == "active"


def test_the_operator_chooses_without_a_member(pool, socks) -> None:
    pool.take(pool.sheets.of(*socks(10, 3)))
    first, _ = kept(pool), kept(pool)
    with pool.database.write.begin() as session:
        activations.activate(session, operator(pool.group_id), first.id)
    last = max(pool.rows(Activation), key=lambda row: row.id)
    assert (last.member_id, last.reason) == (None, "chosen by a designer")


@pytest.mark.parametrize(
    ("steps", "stack", "undone"),
    [
        ("", "", ""),
        ("A B C", "A B C", ""),
        ("A B C <B", "A B", "C"),
        ("A B C <B <A", "A", "B C"),
        ("A B C <B D", "A B D", "C"),
        ("A B C <B D <B", "A B", "C D"),
        ("A B <A B", "A B", ""),
        ("A B A", "A B A", ""),
        ("A B A <B", "A B", ""),
    ],
)
def test_the_history_says_what_going_back_leads_to(steps: str, stack: str, undone: str) -> None:
    past = History(
        [(one.strip("<"), ROLLED_BACK if one.startswith("<") else None) for one in steps.split()]
    )
    assert past.stack == stack.split()
    assert past.rolled_back == set(undone.split())
