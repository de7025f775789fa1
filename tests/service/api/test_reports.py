"""Reporting finished socks."""

from __future__ import annotations

from typing import Any

import pytest

from models.tables.people import Member
from models.tables.socks import Design, Foot, Report, Size

STORED = (Report, Foot, Design, Size, Member)


def stored(world: Any) -> list[int]:
    """Return how many rows each table has that a report can add to."""
    with world.database.read() as session:
        return [session.query(table).count() for table in STORED]


def test_a_report_is_read_back_as_it_was_given(world: Any) -> None:
    given = world.report(
        design="Invented ripple",
        size="M",
        knitted_on="2026-01-05",
        times_washed=2,
        times_worn=9,
        notes="=1+1\nsecond line",
        foot=...,
        foot_id=world.mine.knitter.make("/feet", world.foot())["id"],
    )
    answer = world.mine.knitter.post("/reports", given)
    assert answer.status_code == 201
    read = world.mine.knitter.get(answer.headers["Location"])
    assert read.json == answer.json
    assert read.headers["ETag"] == answer.headers["ETag"]
    assert {name: read.json[name] for name in given} == given
    assert (read.json["reporter"], read.json["version"]) == ("Kestrel", 1)
    assert read.json["decreases_per_round"] == 4


def test_a_report_with_a_foot_records_that_foot_for_its_reporter(world: Any) -> None:
    made = world.mine.knitter.make("/reports", world.report())
    foot = world.mine.knitter.get(f"/feet/{made['foot_id']}").json
    assert (foot["reporter"], foot["foot_length_mm"]) == ("Kestrel", 250.0)


def test_designs_and_sizes_are_made_once_for_each_name(world: Any) -> None:
    for size in ("M", "M", "L"):
        world.mine.steward.make("/reports", world.report(design="Invented ripple", size=size))
    with world.database.read() as session:
        assert (session.query(Design).count(), session.query(Size).count()) == (1, 2)


def test_two_groups_may_use_the_same_design_name(world: Any) -> None:
    for group in (world.mine, world.theirs):
        group.steward.make("/reports", world.report(design="Invented ripple", size="M"))
    with world.database.read() as session:
        owners = {design.group_id for design in session.query(Design)}
    assert owners == {world.mine.steward.group_id, world.theirs.steward.group_id}


def test_a_report_names_the_suggestion_it_followed(world: Any) -> None:
    asked = world.mine.knitter.make("/suggestions", world.question())
    made = world.mine.knitter.make("/reports", world.report(suggestion_id=asked["id"]))
    assert made["suggestion_id"] == asked["id"]


def test_nobody_sees_the_reports_of_another_member_not_even_a_steward(
    world: Any, is_problem: Any
) -> None:
    own = world.mine.knitter.make("/reports", world.report())
    other = world.mine.steward.make("/reports", world.report())
    assert [one["id"] for one in world.mine.knitter.items("/reports")] == [own["id"]]
    assert [one["id"] for one in world.mine.steward.items("/reports")] == [other["id"]]
    is_problem(world.mine.steward.get(f"/reports/{own['id']}"), 404)
    for method in ("GET", "PATCH", "DELETE"):
        options = {"json": {"fit_score": 1}} if method == "PATCH" else {}
        headers = {"If-Match": "*"}
        answer = world.mine.knitter.ask(
            method, f"/reports/{other['id']}", headers=headers, **options
        )
        is_problem(answer, 404)
    assert stored(world)[0] == 2


def test_a_knitter_may_not_report_for_others(world: Any, is_problem: Any) -> None:
    is_problem(world.mine.knitter.post("/reports", world.report(reporter="Ottoline")), 403)
    is_problem(world.mine.knitter.post("/reports", world.report(reporter="Nobody yet")), 403)
    assert stored(world) == [0, 0, 0, 0, 4]


def test_a_foot_of_another_reporter_or_group_is_refused_like_one_that_does_not_exist(
    world: Any, faults: Any
) -> None:
    steward, body = world.mine.steward, world.report(foot=...)
    elsewhere = [world.mine.knitter, world.theirs.steward]
    ids = [who.make("/feet", world.foot())["id"] for who in elsewhere]
    found = [faults(steward.post("/reports", {**body, "foot_id": i})) for i in [*ids, "0" * 32]]
    assert found == [{"/foot_id": "it must be a foot of the reporter"}] * 3


def test_a_suggestion_of_another_group_is_refused_like_one_that_does_not_exist(
    world: Any, faults: Any
) -> None:
    other = world.theirs.steward.make("/suggestions", world.question())["id"]
    found = [
        faults(world.mine.steward.post("/reports", world.report(suggestion_id=i)))
        for i in (other, "0" * 32)
    ]
    assert found[0] == found[1]
    assert list(found[0]) == ["/suggestion_id"]


def test_a_suggestion_of_another_member_is_refused_like_one_that_does_not_exist(
    world: Any, faults: Any
) -> None:
    other = world.mine.steward.make("/suggestions", world.question())["id"]
    found = [
        faults(world.mine.knitter.post("/reports", world.report(suggestion_id=i)))
        for i in (other, "0" * 32)
    ]
    assert found[0] == found[1]


@pytest.mark.parametrize(
    ("wrong", "pointer"),
    [
        ({"fast_decrease_rounds": 90}, "/heel_stitches"),
        ({"suggestion_id": "0" * 32}, "/suggestion_id"),
        ({"knitted_on": "2999-01-01"}, "/knitted_on"),
        ({"heel_stitches": 65, "plain_rounds": 0}, "/heel_stitches"),
    ],
)
def test_a_report_refused_half_way_leaves_no_member_foot_or_design(
    world: Any, faults: Any, wrong: dict[str, Any], pointer: str
) -> None:
    before = stored(world)
    body = world.report(reporter="Wisteria", design="Invented ripple", size="M", **wrong)
    assert list(faults(world.mine.steward.post("/reports", body))) == [pointer]
    assert stored(world) == before


def test_all_that_cannot_be_of_a_sock_is_told_at_once(world: Any, faults: Any) -> None:
    wrong = {"size": "M", "knitted_on": "2999-01-01", "fast_decrease_rounds": 90}
    told = faults(world.mine.steward.post("/reports", world.report(**wrong)))
    assert set(told) == {"/size", "/knitted_on", "/heel_stitches"}
