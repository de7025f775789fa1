"""The calibrations of a group with what became of each, and a member's own socks."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy import select

from models.actions import activations, calibrations, judging
from models.actions.activations import CHOSEN, ROLLED_BACK
from models.actions.actor import Actor
from models.actions.own_socks import MOST as MOST_SOCKS
from models.actions.own_socks import own_socks
from models.actions.timeline import MOST, timeline
from models.domain.geometry import across_mm, ideal_depth_mm
from models.domain.roles import Role
from models.tables.learned import Activation, Calibration
from models.tables.people import Member


def calibrate(pool: Any) -> str:
    with pool.database.read() as reading:
        judged = judging.calibrated(reading, pool.steward)
    with pool.database.write.begin() as session:
        return calibrations.keep_calibration(session, pool.steward, judged).id


def told(pool: Any) -> list[dict[str, Any]]:
    with pool.database.read() as session:
        return timeline(session, pool.steward)


def test_a_group_without_calibrations_has_no_timeline(pool: Any) -> None:
    assert told(pool) == []


def test_every_activation_is_told_with_its_reason_newest_calibration_first(pool: Any) -> None:
    first, second = calibrate(pool), calibrate(pool)
    with pool.database.write.begin() as session:
        activations.roll_back(session, pool.steward)
    with pool.database.write.begin() as session:
        activations.activate(session, pool.steward, second, "it knows more")
    found = told(pool)
    assert [one["id"] for one in found] == [second, first]
    assert [one["standing"] for one in found] == ["active", "replaced"]
    reasons = [[step["reason"] for step in one["activations"]] for one in found]
    assert reasons[0][1:] == [f"{CHOSEN}: it knows more"]
    assert reasons[1][1:] == [ROLLED_BACK]
    moments = [step["created_at"] for step in found[0]["activations"]]
    assert moments == sorted(moments)


def test_verdict_and_reasons_are_those_that_were_stored(pool: Any) -> None:
    stored = calibrate(pool)
    with pool.database.write.begin() as session:
        diagnostics = session.get_one(Calibration, stored).diagnostics
    (one,) = told(pool)
    assert (one["verdict"], one["reasons"]) == (diagnostics["verdict"], diagnostics["reasons"])
    with pool.database.write.begin() as session:
        session.get_one(Calibration, stored).diagnostics = None
    (older,) = told(pool)
    assert (older["verdict"], older["reasons"]) == (None, [])


def test_who_does_not_calibrate_reads_no_figures(pool: Any) -> None:
    stored = calibrate(pool)
    exact = "it compares worse by .031 (standard error .002)"
    with pool.database.write.begin() as session:
        row = session.get_one(Calibration, stored)
        row.diagnostics = {**row.diagnostics, "reasons": [exact]}
        for step in session.scalars(select(Activation)):
            step.reason = exact
    knitter = Actor(pool.group_id, Role.KNITTER, pool.steward.member_id, "Alder")
    for who, shown in ((pool.steward, exact), (knitter, "it compares worse")):
        with pool.database.read() as session:
            [one] = timeline(session, who)
        assert (one["reasons"], one["activations"][0]["reason"]) == ([shown], shown)


def test_only_the_latest_are_told(pool: Any) -> None:
    latest = [calibrate(pool) for _ in range(MOST + 2)][:1:-1]
    assert [one["id"] for one in told(pool)] == latest


@pytest.fixture
def alder(pool: Any) -> Actor:
    """Return the one reporter of two socks, as if joined; somebody else reported a third."""
    deep = {"slow_decrease_rounds": 6, "fast_decrease_rounds": 1, "fit_score": 2}
    pool.take(pool.sheets.of({}, deep, {"reporter": "Birch", "fit_score": -2}))
    member = next(one for one in pool.rows(Member) if one.name == "Alder")
    return Actor(pool.group_id, Role.KNITTER, member.id, "Alder")


def test_own_socks_are_one_s_own_at_their_excess_depth(pool: Any, alder: Actor) -> None:
    with pool.database.read() as session:
        found = own_socks(session, alder)
    sound = pool.sheets.sound
    expected = set()
    for slow, fast, score in ((4, 3, 0), (6, 1, 2)):
        rounds = 3 + 4 * slow + 2 * 4 + fast
        closing = 64 - 4 * (slow + 4 + fast)
        ideal = ideal_depth_mm(sound["heel_diagonal_mm"], across_mm(64, closing, 30))
        expected.add((round(rounds * 100 / 42 - ideal, 1), score))
    assert {(one["excess_mm"], one["fit_score"]) for one in found} == expected


def test_who_has_no_socks_gets_none(pool: Any) -> None:
    with pool.database.read() as session:
        assert own_socks(session, pool.steward) == []


def test_the_latest_hundred_socks_are_told_and_no_more(pool: Any) -> None:
    rows = [{"rounds_per_10cm": 30 + n / 10, "fit_score": n % 3} for n in range(MOST_SOCKS + 5)]
    pool.take(pool.sheets.of(*rows))
    member = next(one for one in pool.rows(Member) if one.name == "Alder")
    with pool.database.read() as session:
        actor = Actor(pool.group_id, Role.KNITTER, member.id, "Alder")
        assert len(own_socks(session, actor)) == MOST_SOCKS
