"""The pages, asked for without a browser."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from models.domain.foot import MEASUREMENTS
from models.learning.question import Question
from service.pages import views
from service.pages.answering import from_geometry
from service.pages.kept import COOKIE, Kept, load
from service.pages.steps import STEPS

Typed = Callable[..., FlaskClient]

MOST_BYTES = 60_000
ASSETS = re.compile(r'(?:href|src)="(/static/[^"]+)"')


def heading(page: TestResponse) -> str:
    """Return the words of a page's heading."""
    found = re.search(r"<h1[^>]*>(.*?)</h1>", page.text, re.DOTALL)
    assert found
    return re.sub(r"<[^>]*>", "", found[1]).strip()


def size(browser: FlaskClient, address: str) -> int:
    """Return how many bytes are at an address."""
    with browser.get(address) as file:
        return len(file.data)


def kept(browser: FlaskClient) -> Kept:
    """Return what the browser keeps."""
    cookie = browser.get_cookie(COOKIE, path="/ask")
    return load(cookie.value if cookie else "")


def test_the_start_page_says_what_it_is_and_leads_on(browser: FlaskClient) -> None:
    page = browser.get("/")
    assert heading(page) == "How deep should the heel be?"
    for address in ("/ask", "/example", "/docs"):
        assert f'href="{address}"' in page.text
        assert browser.get(address, follow_redirects=True).status_code == 200
    assert page.text.count("Not a medical device") == 1


def test_every_measurement_of_the_registry_is_asked_for_with_a_drawing(
    browser: FlaskClient,
) -> None:
    asked = [step.measurement for step in STEPS if step.measurement]
    assert asked == list(MEASUREMENTS)
    for step in STEPS[: len(asked)]:
        page = browser.get(f"/ask/{step.key}").text
        assert "Where the tape goes" in page
        assert step.fields[0].text in page


def test_questions_are_numbered_and_lead_to_the_check(browser: FlaskClient) -> None:
    answers = [
        {"foot_length_mm": "25,2"},
        {"foot_circumference_mm": " 23.6 "},
        {"heel_diagonal_mm": "31.8 cm"},
        {"go": "skip"},
        {"stitches_per_10cm": "30", "rounds_per_10cm": "42", "width": "10cm"},
        {"yarn_weight": "1"},
        {"heel_stitches": "64", "plain_rounds": "3", "medium_decrease_rounds": "4"},
    ]
    address = browser.get("/ask").location
    for number, form in enumerate(answers, start=1):
        assert f"Question {number} of 7" in browser.get(address).text
        sent = browser.post(address, data=form)
        assert sent.status_code == 302
        address = sent.location
    assert address == "/ask/check"
    page = browser.get(address)
    for text in ("25,2 cm", "23.6 cm", "31.8 cm", "left out", "1, super fine", "64, as proposed"):
        assert f"<dd>{text}</dd>" in page.text
    assert 'href="/ask/answer"' in page.text


def test_the_answer_is_the_json_answer_s(after_typing: Typed, lasting) -> None:
    page = after_typing().get("/ask/answer")
    asked = lasting.question(
        foot={
            "foot_length_mm": 252,
            "foot_circumference_mm": 236,
            "heel_diagonal_mm": 318,
        }
    )
    told = lasting.theirs.steward.make("/suggestions", asked)
    s, chance = told["slow_decrease_rounds"], told["chance_just_right"]
    assert heading(page) == f"Work {s} slow-decrease rounds"
    assert f"about {round(chance * 20)} in 20 such heels are just right" in page.text.lower()
    assert page.text.count('class="dot full"') == round(chance * 20)
    assert page.text.count('<circle class="dot') == 20
    assert f"between {told['low']} and {told['high']}" in page.text
    assert f"depth {round(told['depth_mm'])} mm" in page.text
    for one in told["neighbours"]:
        assert f"<td>{round(one['depth_mm'])} mm</td>" in page.text
    for caution in told["cautions"]:
        assert page.text.count(caution) == 1


def test_every_round_can_be_ticked_with_its_stitches(after_typing: Typed, lasting) -> None:
    page = after_typing().get("/ask/answer").text
    chips = re.findall(
        r'type="checkbox"[^>]*value="(\d+)".*?<em>(\w+)</em> <small>(\d+) stitches', page
    )
    s = int(re.findall(r"Work <strong>(\d+)", page)[0])
    counts = {
        "slow_decrease_rounds": s,
        "medium_decrease_rounds": 4,
        "fast_decrease_rounds": 8 - s,
    }
    told = lasting.client.post("/v1/schedules", json=lasting.schedule(**counts)).json
    assert [(int(n), int(left)) for n, _, left in chips] == [
        (one["number"], one["stitches_after"]) for one in told["rounds"]
    ]
    assert [word == "decrease" for _, word, _ in chips] == [
        one["decreases"] > 0 for one in told["rounds"]
    ]
    for step in told["instructions"]:
        for line in step["text"].splitlines():
            assert line in page


def test_an_unmeasured_diagonal_is_named_as_what_would_narrow_the_answer(
    after_typing: Typed,
) -> None:
    page = after_typing(heel_diagonal_mm="").get("/ask/answer").text
    assert "not measured: 320 mm was estimated, give or take 8 mm." in page
    assert "<li>Measure the heel diagonal" in page
    assert "estimated" in re.findall(r"<desc id=\"heel-desc\">(.*?)</desc>", page)[0]


def test_inches_are_answered_in_inches(after_typing: Typed) -> None:
    browser = after_typing()
    browser.post("/ask/foot-length", data={"go": "in", "foot_length_mm": "25,2"})
    page = browser.get("/ask/answer").text
    assert "foot length 9.9 in" in page
    assert re.search(r"\d+ mm is \d\.\d in\.", page)
    assert 'value="25,2 cm"' in browser.get("/ask/foot-length").text


def test_doubts_of_the_domain_are_shown_in_people_s_words(after_typing: Typed) -> None:
    browser = after_typing(stitches_per_10cm="42", rounds_per_10cm="30", heel_stitches="64")
    for address in ("/ask/check", "/ask/answer"):
        page = browser.get(address).text
        assert "Rounds in 10 cm is 30.0: plain knitting has 1 to 1.8 rounds" in page
        assert "_per_10cm is" not in page


def test_a_slip_is_asked_back_with_a_button_that_takes_it(browser: FlaskClient) -> None:
    page = browser.post("/ask/foot-length", data={"foot_length_mm": "245"})
    assert page.status_code == 422
    assert "<title>Error: Foot length" in page.text
    assert 'value="245"' in page.text
    assert 'aria-invalid="true"' in page.text
    assert 'href="#foot_length_mm"' in page.text
    assert '<button class="button quiet" name="means" value="245 mm">' in page.text
    browser.post("/ask/foot-length", data={"foot_length_mm": "245", "means": "245 mm"})
    assert kept(browser).entries["foot_length_mm"].text == "245 mm"


def test_going_back_keeps_what_was_typed_even_where_it_is_wrong(browser: FlaskClient) -> None:
    sent = browser.post("/ask/gauge", data={"stitches_per_10cm": "many", "go": "back"})
    assert sent.location == "/ask/ankle-circumference"
    assert 'value="many"' in browser.get("/ask/gauge").text
    assert browser.post("/ask/foot-length", data={"go": "back"}).location == "/"


def test_changing_one_answer_leads_back_to_the_check(after_typing: Typed) -> None:
    browser = after_typing()
    page = browser.get("/ask/check").text
    assert 'href="/ask/foot-length?then=check"' in page
    sent = browser.post("/ask/foot-length?then=check", data={"foot_length_mm": "25"})
    assert sent.location == "/ask/check"
    assert "<dd>25 cm</dd>" in browser.get(sent.location).text


def test_the_check_names_what_is_in_the_way_and_the_answer_leads_to_it(
    after_typing: Typed,
) -> None:
    browser = after_typing(foot_length_mm="", closing_stitches="15")
    assert browser.get("/ask/answer").location == "/ask/check"
    page = browser.get("/ask/check").text
    assert "<title>Error: " in page
    assert 'href="/ask/foot-length?then=check">Type the foot length.' in page
    assert 'href="/ask/answer"' not in page


def test_without_a_cookie_the_first_question_says_so(browser: FlaskClient) -> None:
    page = browser.get("/ask/answer", follow_redirects=True)
    assert page.request.path == "/ask/foot-length"
    assert "let it keep cookies of this site" in page.text


def test_forgetting_leaves_nothing(after_typing: Typed) -> None:
    browser = after_typing()
    assert browser.post("/ask/forget").location == "/"
    assert kept(browser) == Kept()


def test_the_cookie_is_for_the_pages_of_ask_alone(browser: FlaskClient) -> None:
    sent = browser.post("/ask/foot-length", data={"foot_length_mm": "25"})
    parts = sent.headers["Set-Cookie"].split("; ")
    assert {"HttpOnly", "Path=/ask", "SameSite=Lax", "Max-Age=2592000"} <= set(parts)
    assert "Secure" not in parts
    sent = browser.post("https://localhost/ask/foot-length", data={"foot_length_mm": "25"})
    assert "Secure" in sent.headers["Set-Cookie"]


def test_measurements_are_in_no_address(after_typing: Typed) -> None:
    page = after_typing().get("/ask/check").text
    for address in re.findall(r'(?:href|action)="([^"]*)"', page):
        assert not re.search(r"25|23|31|foot_", address.split("?v=")[0]), address


@pytest.mark.parametrize("address", ["/", "/example", "/ask/gauge", "/ask/nowhere"])
def test_pages_load_nothing_from_elsewhere_and_nothing_inline(
    browser: FlaskClient, address: str
) -> None:
    page = browser.get(address)
    assert page.mimetype == "text/html"
    assert "default-src 'none'" in page.headers["Content-Security-Policy"]
    assert page.headers["Cache-Control"] == "private, no-cache"
    assert not re.search(r"<style|\sstyle=|\son\w+=|https?://|<script(?! src=)", page.text)


def test_what_is_not_there_is_a_page(browser: FlaskClient) -> None:
    page = browser.get("/ask/nowhere")
    assert (page.status_code, heading(page)) == (404, "Nothing here")
    page = browser.post("/ask/gauge", data={"x": "y" * 1_100_000})
    assert (page.status_code, heading(page)) == (413, "Too long")


def test_static_files_are_kept_by_their_content(browser: FlaskClient) -> None:
    for address in ASSETS.findall(browser.get("/").text):
        with browser.get(address) as file, browser.get(address.split("?")[0]) as plain:
            assert file.status_code == plain.status_code == 200
            assert "immutable" in file.headers["Cache-Control"]
            assert plain.headers["Cache-Control"] == "private, no-cache"


@pytest.mark.parametrize(
    "address", ["/", "/ask/check", "/ask/answer", *(f"/ask/{step.key}" for step in STEPS)]
)
def test_every_page_is_under_60_kb_with_all_it_loads(after_typing: Typed, address: str) -> None:
    browser = after_typing()
    page = browser.get(address)
    assert page.status_code == 200
    loaded = ASSETS.findall(page.text)
    assert len(loaded) == 3
    assert len(page.data) + sum(size(browser, found) for found in loaded) < MOST_BYTES


def test_the_longest_answer_is_under_60_kb_too(after_typing: Typed) -> None:
    page = after_typing(
        foot_length_mm="31",
        foot_circumference_mm="29",
        heel_diagonal_mm="39.5",
        stitches_per_10cm="78",
        rounds_per_10cm="110",
    ).get("/ask/answer")
    assert len(re.findall('type="checkbox"', page.text)) > 90
    assert len(page.data) < 45_000


def test_all_that_an_answer_may_tell_is_shown(
    after_typing: Typed, monkeypatch: pytest.MonkeyPatch
) -> None:
    def telling(question: Question) -> dict[str, Any]:
        told = from_geometry(question)
        one = told["neighbours"][0] | {"chance_just_right": 0.45}
        curve = [one | {"slow_decrease_rounds": s, "chance_just_right": 0.1} for s in range(13)]
        worth = {
            "measurement": "ankle_circumference_mm",
            "range_rounds_now": 3.4,
            "range_rounds_then": 2.9,
        }
        return told | {
            "chance_too_shallow": 0.25,
            "chance_too_deep": 0.3,
            "curve": curve,
            "fine_adjustment": one | {"plain_rounds": 5},
            "worth_measuring": worth,
        }

    monkeypatch.setattr(views, "from_geometry", telling)
    page = after_typing().get("/ask/answer").text
    assert "About 5 in 20 are too shallow, about 6 in 20 too deep." in page
    assert "Finer: 5 plain rounds and" in page
    assert "about 9 in 20 such heels are just right. Change the plain rounds" in page
    assert "Measure the ankle circumference: the range of the best number would narrow" in page
    assert "from about 3.4 to 2.9 rounds" in page
    assert len(re.findall('<rect class="bar', page)) == 13
    assert "The bracket holds the best number" in page


def test_a_group_s_answer_says_what_it_rests_on(
    after_typing: Typed, monkeypatch: pytest.MonkeyPatch
) -> None:
    evidence = {"reports": 150, "reporters": 12}
    monkeypatch.setattr(views, "from_geometry", lambda q: from_geometry(q) | {"evidence": evidence})
    page = after_typing().get("/ask/answer").text
    assert "150 reports of finished socks by 12 knitters" in page
    assert "No report of a finished sock" not in page
