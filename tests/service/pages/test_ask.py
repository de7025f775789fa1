"""Ask, without a browser."""

from __future__ import annotations

import re
from collections.abc import Callable

from flask.testing import FlaskClient

from models.domain.foot import MEASUREMENTS
from service.pages.kept import COOKIE, Kept, load
from service.pages.steps import STEPS

Typed = Callable[..., FlaskClient]


def kept(browser: FlaskClient) -> Kept:
    """Return what the browser keeps."""
    cookie = browser.get_cookie(COOKIE, path="/ask")
    return load(cookie.value if cookie else "")


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
