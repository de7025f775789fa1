"""Working out schedules over HTTP."""

from __future__ import annotations

from typing import Any

import pytest

# Heel arithmetic (common practice): heel stitches, closing stitches, plain rounds, all decrease
# rounds, rounds per 10 cm, and for a number of medium decrease rounds the rounds and the depth in
# mm. "Medium" is ours: decrease rounds that are followed by one plain round.
WORKED = [
    (48, 16, 0, 8, 40, {0: (8, 20.0), 4: (12, 30.0), 8: (16, 40.0)}),
    (60, 16, 1, 11, 44, {0: (12, 27.3), 5: (17, 38.6), 11: (23, 52.3)}),
    (64, 16, 2, 12, 44, {0: (14, 31.8), 6: (20, 45.5), 12: (26, 59.1)}),
    (64, 20, 2, 11, 44, {0: (13, 29.5), 5: (18, 40.9), 11: (24, 54.5)}),
    (72, 16, 2, 14, 46, {0: (16, 34.8), 7: (23, 50.0), 14: (30, 65.2)}),
]

# Worked by hand (common practice): an opening of 20 + 20, three plain rounds, then one decrease
# round in four, one in two, and every round, each of four decreases.
BY_HAND = [40, 40, 40, 40, 40, 40, 36, 36, 36, 36, 32, 32, 28, 28, 24, 20, 16]


@pytest.mark.parametrize("row", WORKED, ids=lambda row: f"{row[0]} to {row[1]}")
def test_rounds_and_depths_are_those_of_the_worked_table(lasting: Any, row: Any) -> None:
    stitches, closing, plain, all_, gauge, worked = row
    for medium, expected in worked.items():
        body = lasting.schedule(
            heel_stitches=stitches,
            plain_rounds=plain,
            slow_decrease_rounds=0,
            medium_decrease_rounds=medium,
            fast_decrease_rounds=all_ - medium,
            rounds_per_10cm=gauge,
        )
        sheet = lasting.client.post("/v1/schedules", json=body).json
        assert (sheet["total_rounds"], sheet["depth_mm"]) == expected
        assert sheet["closing_stitches"] == closing


def test_every_round_has_the_stitches_counted_by_hand(client: Any, world: Any) -> None:
    body = world.schedule(
        heel_stitches=40,
        slow_decrease_rounds=2,
        medium_decrease_rounds=2,
        fast_decrease_rounds=2,
    )
    sheet = client.post("/v1/schedules", json=body).json
    assert [one["stitches_after"] for one in sheet["rounds"]] == BY_HAND
    assert [one["number"] for one in sheet["rounds"]] == list(range(1, 18))
    assert sheet["closing_stitches"] == 16
    assert sheet["pick_up"]["quarters"] == [10, 10, 10, 10]


def test_the_instructions_follow_the_rounds_and_end_with_the_close(lasting: Any) -> None:
    sheet = lasting.client.post("/v1/schedules", json=lasting.schedule()).json
    worked = [step for step in sheet["instructions"] if step["first_round"] is not None]
    sections = ["plain", "slow", "medium", "fast"]
    assert [step["section"] for step in worked] == sections
    for step in worked:
        rounds = sheet["rounds"][step["first_round"] - 1 : step["last_round"]]
        assert {one["section"] for one in rounds} == {step["section"]}
        assert step["stitches_before"] == rounds[0]["stitches_before"]
        assert step["stitches_after"] == rounds[-1]["stitches_after"]
    assert [s["section"] for s in sheet["instructions"]][-1] == "close"


def test_without_a_foot_there_is_no_ease_and_no_waste_yarn(lasting: Any) -> None:
    sheet = lasting.client.post("/v1/schedules", json=lasting.schedule()).json
    assert [sheet[name] for name in ("diagonal_ease", "heel_diagonal", "waste_yarn")] == [None] * 3


def test_with_a_foot_the_ease_follows_from_the_girth_of_the_fabric(lasting: Any) -> None:
    foot = lasting.foot(heel_diagonal_mm=318)
    sheet = lasting.client.post("/v1/schedules", json=lasting.schedule(foot=foot)).json
    girth = (64 / 2 + 20 / 2) * 100 / 30 + 2 * (3 + 4 * 3 + 2 * 4 + 4) * 100 / 42
    assert sheet["diagonal_ease"] == pytest.approx(girth / 318 - 1, abs=0.0006)
    assert sheet["heel_diagonal"] == {"value_mm": 318.0, "sd_mm": 0.0, "measured": True}
    assert 0 < sheet["waste_yarn"]["toe_to_waste_yarn_mm"] < 250


def test_an_estimated_heel_diagonal_says_so_and_carries_its_sd(lasting: Any) -> None:
    sheet = lasting.client.post("/v1/schedules", json=lasting.schedule(foot=lasting.foot())).json
    # Survey regression of women and men: 3.895 + 0.7202 length + 0.5704 circumference, sd 8.2.
    expected = 3.895 + 0.7202 * 250 + 0.5704 * 230
    assert sheet["heel_diagonal"]["value_mm"] == pytest.approx(expected, abs=0.15)
    assert (sheet["heel_diagonal"]["sd_mm"], sheet["heel_diagonal"]["measured"]) == (8.2, False)


def test_a_remainder_goes_into_the_first_plain_round(lasting: Any) -> None:
    sheet = lasting.client.post("/v1/schedules", json=lasting.schedule(heel_stitches=66)).json
    assert sheet["remainder"] == 2
    assert [sheet["rounds"][n]["decreases"] for n in (0, 1)] == [2, 0]
    assert sheet["closing_stitches"] == 20


def test_each_way_to_close_has_its_own_words(lasting: Any) -> None:
    words = {
        way: lasting.client.post("/v1/schedules", json=lasting.schedule(close=way)).json[
            "instructions"
        ][-1]["text"]
        for way in ("graft", "gather")
    }
    assert "graft" in words["graft"]
    assert "ring" in words["gather"]


def test_an_unusual_gauge_is_answered_with_a_warning(lasting: Any) -> None:
    swapped = lasting.schedule(stitches_per_10cm=42, rounds_per_10cm=30)
    warnings = lasting.client.post("/v1/schedules", json=swapped).json["warnings"]
    assert [warning["code"] for warning in warnings] == ["check_measurements"]
    assert "rounds_per_10cm" in warnings[0]["text"]


def test_a_schedule_needs_no_token_and_ignores_a_wrong_one(lasting: Any) -> None:
    wrong = {"Authorization": "Bearer nonsense"}
    answer = lasting.client.post("/v1/schedules", json=lasting.schedule(), headers=wrong)
    assert answer.status_code == 200
