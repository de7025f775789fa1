"""Asking a group by page: the answer is its active calibration's, and is kept there."""

from __future__ import annotations

import re
from typing import Any

import pytest
from flask.testing import FlaskClient
from markupsafe import escape

from models.actions import suggestions
from service.pages.kept import COOKIE, UNIT_COOKIE
from service.pages.words import spoken

REPORTS = 12


@pytest.fixture(scope="module")
def calibrated(lasting: Any) -> Any:
    """Return the steward of `mine`, whose group has an active calibration of a few reports."""
    steward = lasting.mine.steward
    for number in range(REPORTS):
        score = (number % 3) - 1
        foot = {"foot_length_mm": 240 + number, "foot_circumference_mm": 225 + number}
        sock = lasting.report(
            reporter=f"Invented {number}", foot=foot, fit_score=score,
            slow_decrease_rounds=3 + score, fast_decrease_rounds=4 - score,
        )  # fmt: skip
        assert steward.post("/reports", sock).status_code == 201
    steward.make("/calibrations")
    return steward


@pytest.fixture
def asking(logged_in, entries, csrf) -> Any:
    """Return a function that asks a group as somebody would, and gives browser and answer."""

    def ask(who: str, group_id: str, **more: str) -> tuple[FlaskClient, Any]:
        browser = logged_in(who)
        browser.set_cookie(COOKIE, entries().dump(), path="/ask")
        page = browser.get("/ask/check").text
        key = re.findall(r'name="key" value="([0-9a-f]{32})"', page)
        form = {"csrf_token": csrf(page), "key": key[0], "group": group_id, **more}
        return browser, browser.post("/ask/answer", data=form)

    return ask


def test_the_groups_of_who_asks_can_answer(calibrated: Any, logged_in, entries) -> None:
    browser = logged_in("knitter")
    browser.set_cookie(COOKIE, entries().dump(), path="/ask")
    page = browser.get("/ask/check").text
    assert "The reports of Invented heron group" in page
    assert "Invented otter group" not in page
    assert browser.get("/ask/check").headers["Cache-Control"] == "no-store"


def test_the_page_says_what_the_suggestion_of_the_api_says(
    calibrated: Any, asking, lasting: Any
) -> None:
    browser, sent = asking("knitter", calibrated.group_id)
    assert sent.status_code == 302
    page = browser.get(sent.location).text
    kept = lasting.mine.knitter.get("/v1" + sent.location).json
    foot = {"foot_length_mm": 252, "foot_circumference_mm": 236, "heel_diagonal_mm": 318}
    told = lasting.mine.knitter.make("/suggestions", lasting.question(foot=foot))
    assert {**kept, "id": 0, "created_at": 0} == {**told, "id": 0, "created_at": 0}
    assert kept["calibration_id"]
    assert f"Work <strong>{told['slow_decrease_rounds']}</strong>" in page
    counts = told["evidence"]
    said = f"{counts['reports']} or more reports of finished socks by 10 or more knitters in"
    assert said in page
    for warning in told["warnings"]:
        shown = warning["code"] != "estimated_heel_diagonal"
        assert (str(escape(spoken(warning["text"]))) in page) is shown
    assert f"between {told['low']} and {told['high']}" in page


def test_what_reports_cannot_tell_is_said_as_the_api_says_it(
    calibrated: Any, asking, monkeypatch: pytest.MonkeyPatch
) -> None:
    browser, sent = asking("knitter", calibrated.group_id)
    assert "cannot tell" not in browser.get(sent.location).text
    read = suggestions.read_suggestion
    warning = {"code": "cannot_tell", "text": "The reports do not establish this."}

    def torn(*given: Any) -> dict[str, Any]:
        return {**read(*given), "established": False, "warnings": [warning]}

    monkeypatch.setattr(suggestions, "read_suggestion", torn)
    page = browser.get(sent.location).text
    assert "the reports of the group cannot tell" in page
    assert warning["text"] in page


def test_a_form_that_is_sent_twice_asks_once(calibrated: Any, logged_in, entries, csrf) -> None:
    browser = logged_in("knitter")
    browser.set_cookie(COOKIE, entries().dump(), path="/ask")
    page = browser.get("/ask/check").text
    form = {"csrf_token": csrf(page), "key": "k" * 32, "group": calibrated.group_id}
    first, second = (browser.post("/ask/answer", data=form).location for _ in range(2))
    assert first == second


def test_a_personal_answer_is_beside_the_other_or_said_to_be_missing(
    calibrated: Any, asking, lasting: Any
) -> None:
    browser, sent = asking("designer", calibrated.group_id, personal="yes")
    page = browser.get(sent.location).text
    assert "No report of yours counts yet" in page
    lasting.mine.steward.make("/reports", lasting.report(fit_score=-1))
    browser, sent = asking("steward", calibrated.group_id, personal="yes")
    answer = calibrated.get("/v1" + sent.location).json
    page = browser.get(sent.location).text
    own = answer["personal"] and answer["personal"]["reports"]
    assert (f"Going by {own} report" in page) is (answer["personal"] is not None)
    assert answer["personal"] or not answer["established"]


def test_geometry_answers_where_no_group_is_asked_and_nothing_is_kept(
    calibrated: Any, asking, lasting: Any
) -> None:
    before = len(lasting.mine.knitter.items("/suggestions"))
    browser, sent = asking("knitter", "")
    assert sent.location == "/ask/answer"
    assert "No report of a finished sock stands behind it yet" in browser.get(sent.location).text
    assert len(lasting.mine.knitter.items("/suggestions")) == before


def test_a_group_of_others_cannot_be_asked(asking, lasting: Any) -> None:
    for group_id in (lasting.theirs.steward.group_id, "0" * 32):
        _, sent = asking("knitter", group_id)
        assert sent.status_code == 404


def test_who_is_logged_out_meanwhile_is_led_to_the_login_and_back(
    browser: FlaskClient, entries
) -> None:
    browser.set_cookie(COOKIE, entries().dump(), path="/ask")
    sent = browser.post("/ask/answer", data={"group": "0" * 32})
    assert sent.location == "/login?next=/ask/check"


def test_own_suggestions_are_listed_newest_first_and_others_are_not_shown(
    calibrated: Any, asking, logged_in, lasting: Any
) -> None:
    browser, sent = asking("knitter", calibrated.group_id)
    page = browser.get(f"/groups/{calibrated.group_id}/suggestions").text
    links = re.findall(r'href="(/groups/[0-9a-f]{32}/suggestions/[0-9a-f]{32})"', page)
    assert links[0] == sent.location
    assert logged_in("designer").get(sent.location).status_code == 404
    listed = lasting.mine.knitter.get("/suggestions").json
    ids = [one["id"] for one in listed["items"]]
    assert ids == sorted(ids)
    assert {f"{calibrated.group_id}/suggestions/{one}" for one in ids} >= {
        link.removeprefix("/groups/") for link in links
    }


def test_older_suggestions_are_a_page_further(calibrated: Any, lasting: Any, logged_in) -> None:
    for _ in range(21):
        lasting.mine.knitter.make("/suggestions", lasting.question())
    browser = logged_in("knitter")
    page = browser.get(f"/groups/{calibrated.group_id}/suggestions").text
    older = re.search(r'href="([^"]*\?after=[0-9a-f]{32})"', page)
    assert older
    links = [
        re.findall(r"suggestions/([0-9a-f]{32})", text)
        for text in (page, browser.get(older[1]).text)
    ]
    assert len(links[0]) == 20
    assert min(links[0]) > max(links[1])


def test_who_measures_in_inches_reads_inches(calibrated: Any, asking) -> None:
    browser, sent = asking("knitter", calibrated.group_id)
    browser.set_cookie(UNIT_COOKIE, "in")
    page = browser.get(sent.location).text
    instructions = page[page.index('id="schedule"') :]
    assert re.search(r"the sock measures \d\.\d in \(about \d+ rounds\)", instructions)
    assert "30.5 stitches and 42.7 rounds in 4 in" in instructions
    assert not re.search(r"\d (mm|cm)\b", instructions)
