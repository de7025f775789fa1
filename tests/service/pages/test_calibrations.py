"""Calibrating, activating and going back by pages."""

from __future__ import annotations

import pytest

from models.actions import judging
from models.domain.errors import Conflict


def standings(pool) -> dict[int, str]:
    return {one["number"]: one["standing"] for one in pool.steward.items("/calibrations")}


def calibrated_by_page(pool) -> str:
    """Press the button, let the work be done, and return where the page of its progress leads."""
    sent = pool.send("/calibrations")
    assert sent.status_code == 303
    pool.lasting.work()
    done = pool.browser.get(sent.location)
    assert done.status_code == 302
    return str(done.location)


@pytest.fixture
def two(pool):
    """Return a pool with two calibrations, made by the page's button."""
    pool.report(12, each=3)
    for _ in range(2):
        pool.card = calibrated_by_page(pool)
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
    assert "Why it answered</h2>" in two.browser.get(second).text
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
    calibrated_by_page(pool)
    assert "says exactly the same" in pool.get("/reviews").text


def test_the_page_of_work_tells_how_far_it_is_and_survives_a_reload(pool) -> None:
    where = pool.send("/calibrations").location
    for _ in range(2):
        page = pool.browser.get(where).text
        assert "It waits for its turn." in page
        assert 'href="' + where + '">Look again</a>' in page
    pool.lasting.work()
    assert "/calibrations/" in pool.browser.get(where).location


def test_work_that_waits_can_be_called_off_and_leaves_nothing(pool) -> None:
    pool.report(3)
    where = pool.send("/calibrations").location
    assert pool.send(f"{where.removeprefix(pool.address)}/cancellation").status_code == 303
    pool.lasting.work()
    page = pool.browser.get(where).text
    assert "It was called off, and nothing was changed." in page
    assert pool.send(f"{where.removeprefix(pool.address)}/cancellation").location == where
    assert standings(pool) == {}


def test_work_that_could_not_be_done_says_why(pool, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise Conflict("somebody is in the way")

    monkeypatch.setattr(judging, "calibrated", refuse)
    where = pool.send("/calibrations").location
    pool.lasting.work()
    page = pool.browser.get(where).text
    assert "Somebody is in the way." in page
    assert "nothing was changed" in page


def test_nobody_sees_the_work_of_others(pool) -> None:
    where = pool.send("/calibrations").location
    code = pool.steward.make("/invitations", {"role": "designer"})["code"]
    other, token = pool.someone()
    given = {"code": code, "name": "Wagtail", "consent_version": "3", "csrf_token": token}
    assert other.post("/join", data=given).status_code == 302
    assert other.get(where).status_code == 404
