"""Recording and reading feet."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any


def test_a_recorded_foot_is_read_back_as_it_was_given(world: Any) -> None:
    given = world.foot(heel_diagonal_mm=318.5, label="left", measured_on="2026-01-05")
    answer = world.mine.steward.post("/feet", given)
    assert answer.status_code == 201
    read = world.mine.steward.get(answer.headers["Location"])
    assert read.json == answer.json
    kept = {name: read.json[name] for name in given}
    assert kept == given
    assert read.json["ankle_circumference_mm"] is None
    assert read.json["reporter"] == "Ottoline"
    assert read.json["created_at"].endswith("Z")


def test_a_foot_needs_only_its_length_and_circumference(world: Any) -> None:
    made = world.mine.knitter.make("/feet", world.foot())
    assert made["reporter"] == "Kestrel"
    assert [made[name] for name in ("label", "measured_on", "heel_diagonal_mm")] == [None] * 3


def test_a_steward_records_the_foot_of_a_reporter_who_has_no_token(world: Any) -> None:
    made = world.mine.steward.make("/feet", world.foot(reporter="Wisteria"))
    again = world.mine.steward.make("/feet", world.foot(reporter="Wisteria", foot_length_mm=252))
    assert [made["reporter"], again["reporter"]] == ["Wisteria", "Wisteria"]


def test_a_knitter_may_not_record_the_foot_of_another(world: Any, is_problem: Any) -> None:
    is_problem(world.mine.knitter.post("/feet", world.foot(reporter="Ottoline")), 403)
    assert world.mine.steward.items("/feet") == []


def test_a_knitter_may_name_herself(world: Any) -> None:
    assert world.mine.knitter.make("/feet", world.foot(reporter="Kestrel"))["reporter"] == "Kestrel"


def test_nobody_sees_the_feet_of_another_member_not_even_a_steward(
    world: Any, is_problem: Any
) -> None:
    people = (world.mine.knitter, world.mine.steward)
    made = [who.make("/feet", world.foot())["id"] for who in people]
    for who, own, other in zip(people, made, reversed(made), strict=True):
        assert [foot["id"] for foot in who.items("/feet")] == [own]
        is_problem(who.get(f"/feet/{other}"), 404)
        is_problem(who.delete(f"/feet/{other}"), 404)


def test_a_steward_sees_the_feet_of_reporters_who_have_not_joined(
    world: Any, is_problem: Any
) -> None:
    made = world.mine.steward.make("/feet", world.foot(reporter="Wisteria"))["id"]
    other = world.member(world.mine.steward.group_id, "Isolde", "steward")
    assert [foot["id"] for foot in other.items("/feet")] == [made]
    for who in (world.mine.knitter, world.member(other.group_id, "Bea", "designer")):
        is_problem(who.get(f"/feet/{made}"), 404)


def test_a_steward_does_not_record_for_a_member_who_has_joined(world: Any, is_problem: Any) -> None:
    problem = is_problem(world.mine.steward.post("/feet", world.foot(reporter="Kestrel")), 403)
    assert problem["detail"].startswith("Kestrel has joined the group")
    assert world.mine.knitter.items("/feet") == []


def test_a_foot_cannot_have_been_measured_in_the_future(lasting: Any, faults: Any) -> None:
    later = (date.today() + timedelta(days=3)).isoformat()
    found = faults(lasting.mine.steward.post("/feet", lasting.foot(measured_on=later)))
    assert found == {"/measured_on": "it must not be in the future"}
