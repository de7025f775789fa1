"""Asking how many slow-decrease rounds to work."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest
from sqlalchemy import update

from models.tables.socks import Report


def codes(answer: dict[str, Any]) -> list[str]:
    return [warning["code"] for warning in answer["warnings"]]


def measured(world: Any, **changed: Any) -> dict[str, Any]:
    """Return a question about which nothing is unusual or estimated."""
    foot = world.foot(heel_diagonal_mm=315, ankle_circumference_mm=217)
    return dict(world.question(foot=foot | changed.pop("foot", {}), **changed))


def test_without_reports_or_calibration_the_geometry_answers(world: Any) -> None:
    answer = world.mine.knitter.post("/suggestions", measured(world))
    assert answer.status_code == 201
    found = answer.json
    assert found["calibration_id"] is None
    assert found["evidence"] == {"reports": 0, "reporters": 0}
    # Depth that leaves the fabric 10 % smaller than the heel diagonal: 75.1 mm here.
    wanted = (315 * 0.9 - (64 / 2 + 16 / 2) * 100 / 30) / 2
    assert abs(found["depth_mm"] - wanted) < 3 * 100 / 42
    assert codes(found) == ["geometry_alone"]


def test_an_answer_is_consistent_in_itself(world: Any) -> None:
    found = world.mine.knitter.make("/suggestions", measured(world))
    s = found["slow_decrease_rounds"]
    assert found["low"] <= s <= found["high"]
    assert [one["slow_decrease_rounds"] for one in found["neighbours"]] == [s - 1, s, s + 1]
    chances = [one["chance_just_right"] for one in found["neighbours"]]
    assert max(chances) == chances[1] == found["chance_just_right"]
    depths = [one["depth_mm"] for one in found["neighbours"]]
    three_rounds = 3 * 100 / 42
    assert [b - a for a, b in pairwise(depths)] == pytest.approx([three_rounds] * 2, abs=0.15)
    assert found["schedule"]["slow_decrease_rounds"] == s


def test_the_curve_holds_every_choice_with_chances_that_sum_to_one(world: Any) -> None:
    found = world.mine.knitter.make("/suggestions", measured(world))
    curve, s = found["curve"], found["slow_decrease_rounds"]
    # 64 stitches closed at 16 are 12 decrease rounds of 4.
    assert [one["slow_decrease_rounds"] for one in curve] == list(range(13))
    assert found["neighbours"] == curve[s - 1 : s + 2]
    assert curve[s].items() <= found.items()
    for one in curve:
        chances = [value for name, value in one.items() if name.startswith("chance_")]
        assert len(chances) == 3
        assert sum(chances) == pytest.approx(1, abs=0.0151)
    for end, chance in ((0, "chance_too_shallow"), (-1, "chance_too_deep")):
        assert curve[end][chance] == max(one[chance] for one in curve)


def test_asking_again_with_the_plain_rounds_of_the_fine_adjustment_gives_what_it_says(
    world: Any,
) -> None:
    found = world.mine.knitter.make("/suggestions", measured(world, plain_rounds=5))
    fine = found["fine_adjustment"]
    assert fine["chance_just_right"] > found["chance_just_right"]
    plain = fine.pop("plain_rounds")
    again = world.mine.knitter.make("/suggestions", measured(world, plain_rounds=plain))
    assert fine.items() <= again.items()
    assert again["fine_adjustment"] is None


def test_a_missing_heel_diagonal_is_worth_measuring_and_nothing_is_where_all_were_taken(
    world: Any,
) -> None:
    foot = {"heel_diagonal_mm": None, "ankle_circumference_mm": None}
    without = world.mine.knitter.make("/suggestions", measured(world, foot=foot))
    worth = without["worth_measuring"]
    assert worth["measurement"] == "heel_diagonal_mm"
    assert worth["chance_now"] == without["chance_just_right"] < worth["chance_then"]
    assert worth["range_rounds_then"] < worth["range_rounds_now"]
    whole = world.mine.knitter.make("/suggestions", measured(world))
    assert whole["worth_measuring"] is None


def test_a_personal_answer_is_given_only_where_asked_for_and_from_own_reports_that_count(
    world: Any,
) -> None:
    knitter, steward = world.mine.knitter, world.mine.steward
    for _ in range(6):
        knitter.make("/reports", world.report(fit_score=2))
        steward.make("/reports", world.report(fit_score=-2))
    silent = knitter.make("/suggestions", measured(world))
    assert silent["personal"] is None
    assert codes(silent) == ["geometry_alone"]
    deep, shallow = (
        who.make("/suggestions", measured(world, personal=True)) for who in (knitter, steward)
    )
    assert [deep["personal"]["reports"], shallow["personal"]["reports"]] == [6, 6]
    assert deep["personal"]["depth_mm"] < silent["depth_mm"] < shallow["personal"]["depth_mm"]
    assert deep["curve"] == shallow["curve"] == silent["curve"]
    with world.database.write.begin() as session:
        session.execute(
            update(Report).where(Report.member_id == knitter.member_id).values(status="held")
        )
    held = knitter.make("/suggestions", measured(world, personal=True))
    assert held["personal"] is None
    assert codes(held) == ["geometry_alone", "no_reports_of_yours"]


@pytest.mark.parametrize("value", [None, 1, 0, "true", "yes", [], {}])
def test_whether_to_answer_personally_is_true_or_false_and_nothing_else(
    lasting: Any, faults: Any, value: Any
) -> None:
    found = faults(lasting.mine.steward.post("/suggestions", lasting.question(personal=value)))
    assert found == {"/personal": "true or false"}


def test_a_longer_heel_diagonal_asks_for_more_slow_decrease_rounds(world: Any) -> None:
    found = [
        world.mine.knitter.make("/suggestions", measured(world, foot={"heel_diagonal_mm": d}))
        for d in (295, 315, 335)
    ]
    counts = [one["slow_decrease_rounds"] for one in found]
    assert counts == sorted(set(counts))


def test_the_schedule_of_an_answer_can_be_worked_out_as_it_is(world: Any) -> None:
    recorded = world.mine.knitter.make("/feet", world.foot(heel_diagonal_mm=318))["id"]
    for question in (world.question(), world.question(foot=..., foot_id=recorded)):
        found = world.mine.knitter.make("/suggestions", question)
        sheet = world.client.post("/v1/schedules", json=found["schedule"])
        assert sheet.status_code == 200
        assert sheet.json["depth_mm"] == found["depth_mm"]
        assert sheet.json["closing_stitches"] == 16
        assert sheet.json["heel_diagonal"] == found["heel_diagonal"]


def test_after_activation_the_calibration_answers_and_is_named(world: Any) -> None:
    steward = world.mine.steward
    for day in range(1, 21):
        told = world.report(fit_score=1, knitted_on=f"2025-03-{day:02}")
        world.mine.knitter.make("/reports", told)
    before = world.mine.knitter.make("/suggestions", world.question())
    assert before["calibration_id"] is None
    made = steward.make("/calibrations")["id"]
    after = world.mine.knitter.make("/suggestions", world.question())
    assert after["calibration_id"] == made
    assert after["evidence"] == {"reports": None, "reporters": None}, "one person"
    assert "geometry_alone" not in codes(after)
    assert after["slow_decrease_rounds"] < before["slow_decrease_rounds"]


def test_a_suggestion_stays_as_it_was_given(world: Any) -> None:
    knitter, steward = world.mine.knitter, world.mine.steward
    answer = knitter.post("/suggestions", world.question())
    for score in (2, -2):
        knitter.make("/reports", world.report(fit_score=score))
        made = steward.make("/calibrations")["id"]
        steward.post(f"/calibrations/{made}/activation")
        assert knitter.get(answer.headers["Location"]).json == answer.json


def test_nobody_sees_the_suggestions_of_another_member(world: Any, is_problem: Any) -> None:
    own = world.mine.knitter.post("/suggestions", world.question())
    other = world.mine.steward.post("/suggestions", world.question())
    assert world.mine.knitter.get(own.headers["Location"]).json == own.json
    is_problem(world.mine.steward.get(own.headers["Location"]), 404)
    is_problem(world.mine.knitter.get(other.headers["Location"]), 404)


def test_the_foot_of_another_member_cannot_be_asked_about(world: Any, faults: Any) -> None:
    others = [who.make("/feet", world.foot()) for who in (world.mine.steward, world.theirs.knitter)]
    ids = [*(foot["id"] for foot in others), "0" * 32]
    found = [
        faults(world.mine.knitter.post("/suggestions", world.question(foot=..., foot_id=i)))
        for i in ids
    ]
    assert found == [{"/foot_id": "no such foot in this group"}] * 3


@pytest.mark.parametrize(
    ("changed", "expected"),
    [
        ({}, []),
        ({"foot": {"heel_diagonal_mm": None}}, ["estimated_heel_diagonal"]),
        (
            {"heel_stitches": 40, "closing_stitches": 32},
            ["too_few_stitches", "fewer_medium_rounds", "check_measurements"],
        ),
        ({"plain_rounds": 40}, ["already_deep_enough"]),
        ({"rounds_per_10cm": 28, "heel_stitches": 48}, ["check_measurements"]),
        ({"yarn_weight": 5}, ["check_measurements"]),
    ],
)
def test_a_warning_appears_exactly_where_it_applies(
    lasting: Any, changed: dict[str, Any], expected: list[str]
) -> None:
    found = lasting.mine.steward.make("/suggestions", measured(lasting, **changed))
    assert set(codes(found)) - {"geometry_alone"} == set(expected)


@pytest.mark.parametrize(("rounds", "score"), [(1, 2), (2, 2)])
def test_socks_that_were_all_too_deep_never_lead_to_a_deeper_one(
    world: Any, rounds: int, score: int
) -> None:
    before = world.mine.knitter.make("/suggestions", world.question())
    for _ in range(20 if rounds == 1 else 5):
        deep = {"slow_decrease_rounds": rounds, "fast_decrease_rounds": 7 - rounds}
        world.mine.knitter.make("/reports", world.report(fit_score=score, **deep))
    made = world.mine.steward.make("/calibrations")["id"]
    world.mine.steward.post(f"/calibrations/{made}/activation")
    after = world.mine.knitter.make("/suggestions", world.question())
    assert after["slow_decrease_rounds"] <= before["slow_decrease_rounds"]


@pytest.mark.parametrize(("length", "expected"), [(250, False), (300, False), (345, True)])
def test_a_foot_far_from_those_an_answer_rests_on_is_extrapolated(
    lasting: Any,
    length: int,
    expected: bool,  # noqa: FBT001
) -> None:
    scale = length / 250
    foot = {
        "foot_length_mm": length,
        "foot_circumference_mm": round(230 * scale),
        "heel_diagonal_mm": round(315 * scale),
    }
    found = lasting.mine.steward.make("/suggestions", lasting.question(foot=foot))
    assert ("extrapolating" in codes(found)) is expected


def test_a_yarn_weight_that_nobody_reported_is_extrapolated(world: Any) -> None:
    for number in range(10):
        world.mine.steward.make("/reports", world.report(reporter=f"Invented {number}"))
    made = world.mine.steward.make("/calibrations")["id"]
    world.mine.steward.post(f"/calibrations/{made}/activation")
    known, unknown = (
        world.mine.knitter.make("/suggestions", measured(world, yarn_weight=weight))
        for weight in (1, 2)
    )
    assert [w["text"] for w in unknown["warnings"] if "yarn weight 2" in w["text"]] == [
        "Too few people have reported on yarn weight 2 yet."
    ]
    assert not [w for w in known["warnings"] if "yarn weight" in w["text"]]


def test_closing_stitches_out_of_reach_are_refused_with_those_in_reach(
    lasting: Any, faults: Any
) -> None:
    found = faults(lasting.mine.steward.post("/suggestions", lasting.question(closing_stitches=18)))
    assert list(found) == ["/closing_stitches"]
    assert "16 or 20" in found["/closing_stitches"]


def test_stitches_that_do_not_come_out_even_need_a_plain_round(lasting: Any, faults: Any) -> None:
    odd = lasting.question(heel_stitches=66, plain_rounds=0)
    found = faults(lasting.mine.steward.post("/suggestions", odd))
    assert "64 or 68" in found["/heel_stitches"]
    even = lasting.question(heel_stitches=66, plain_rounds=1)
    assert lasting.mine.steward.make("/suggestions", even)["schedule"]["heel_stitches"] == 66


def test_own_suggestions_are_listed_oldest_first_with_the_socks_that_followed(world: Any) -> None:
    knitter = world.mine.knitter
    first, second = (
        knitter.make("/suggestions", world.question(yarn_weight=weight)) for weight in (1, 2)
    )
    world.mine.steward.make("/suggestions", world.question())
    knitter.make("/reports", world.report(suggestion_id=second["id"]))
    listed = knitter.get("/suggestions").json
    assert [one["id"] for one in listed["items"]] == [first["id"], second["id"]]
    assert [one["reports"] for one in listed["items"]] == [0, 1]
    for one, told in zip(listed["items"], (first, second), strict=True):
        assert {name: told[name] for name in one if name != "reports"} == {
            name: value for name, value in one.items() if name != "reports"
        }
    page = knitter.get("/suggestions?limit=1")
    following = knitter.get(f"/suggestions?limit=1&cursor={page.json['next']}").json
    assert [one["id"] for one in following["items"]] == [second["id"]]
    assert following["next"] is None
