"""Calibrating, activating and going back by pages."""

from __future__ import annotations

import pytest


def standings(pool) -> dict[int, str]:
    return {one["number"]: one["standing"] for one in pool.steward.items("/calibrations")}


@pytest.fixture
def two(pool):
    """Return a pool with two calibrations, made by the page's button."""
    pool.report(12, each=3)
    for _ in range(2):
        sent = pool.send("/calibrations")
        assert sent.status_code == 303
        pool.card = sent.location
    return pool


def test_the_button_calibrates_and_leads_to_the_card(two) -> None:
    assert standings(two) == {1: "replaced", 2: "active"}
    card = two.browser.get(two.card).text
    assert "It answers from now on." in card
    assert "It began with geometry." in card
    (latest,) = [one for one in two.steward.items("/calibrations") if one["number"] == 2]
    told = two.steward.get(f"/calibrations/{latest['id']}/card").json
    for section in told["sections"]:
        assert f'id="{section["key"]}"' in card


def test_going_back_and_choosing_again_with_a_reason(two) -> None:
    page = two.get("/calibrations").text
    assert "Let the one before answer again" in page
    assert two.send("/calibrations/rollback").status_code == 303
    assert standings(two) == {1: "active", 2: "replaced"}
    assert "rolled back" in two.get("/calibrations").text
    second = two.card.partition("?")[0]
    assert "Let it answer from now on" in two.browser.get(second).text
    sent = two.send(f"{second.removeprefix(two.address)}/activation", reason="it knows more yarns")
    assert sent.status_code == 303
    assert standings(two) == {1: "replaced", 2: "active"}
    history = two.get("/calibrations").text
    assert "chosen by a designer: it knows more yarns" in history


def test_with_nothing_to_go_back_to_the_page_says_so(pool) -> None:
    sent = pool.send("/calibrations/rollback")
    assert sent.status_code == 409
    assert "there is nothing to go back to" in sent.text


def test_a_reason_that_is_too_long_is_refused_and_nothing_changes(two) -> None:
    two.send("/calibrations/rollback")
    path = two.card.partition("?")[0].removeprefix(two.address)
    sent = two.send(f"{path}/activation", reason="x" * 500)
    assert sent.status_code == 422
    assert 'id="reason-fault"' in sent.text
    assert standings(two) == {1: "active", 2: "replaced"}


def test_doubtful_reports_are_held_before_the_button_learns(pool) -> None:
    pool.report(12, each=2)
    first = pool.steward.items("/reports")[0]
    foot = pool.steward.get(f"/feet/{first['foot_id']}").json
    names = (
        "foot_length_mm",
        "foot_circumference_mm",
        "heel_diagonal_mm",
        "ankle_circumference_mm",
    )
    sock = {name: first[name] for name in pool.lasting.report() if name in first}
    for _ in range(3):
        measured = {name: foot[name] for name in names if foot.get(name) is not None}
        pool.steward.make("/reports", {**sock, "foot": measured, "reporter": "Invented copier"})
    pool.send("/calibrations")
    assert "says exactly the same" in pool.get("/reviews").text
