"""What holds for all pages: the start, headers, errors, weight."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from service.pages import start
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


def test_the_start_page_says_what_it_is_and_leads_on(browser: FlaskClient) -> None:
    page = browser.get("/")
    assert heading(page) == "How deep should the heel be?"
    for address in ("/ask", "/example", "/docs"):
        assert f'href="{address}"' in page.text
        assert browser.get(address, follow_redirects=True).status_code == 200
    assert page.text.count("Not a medical device") == 1


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


BROWSER = {"Accept": "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8"}


@pytest.mark.parametrize("address", ["/nowhere", "/groups/nowhere", "/docs/nowhere"])
def test_what_is_nowhere_is_a_page_for_a_browser_and_a_problem_for_a_program(
    browser: FlaskClient, address: str
) -> None:
    page = browser.get(address, headers=BROWSER)
    assert (page.status_code, page.mimetype, heading(page)) == (404, "text/html", "Nothing here")
    assert "script-src 'self'" in page.headers["Content-Security-Policy"]
    for accept in ({}, {"Accept": "application/json"}, {"Accept": "*/*"}):
        problem = browser.get(address, headers=accept)
        assert (problem.status_code, problem.mimetype) == (404, "application/problem+json")
    refused = browser.post("/", headers=BROWSER)
    assert (refused.status_code, heading(refused)) == (405, "Not with this method")
    assert set(refused.headers["Allow"].split(", ")) == {"GET", "HEAD", "OPTIONS"}


def test_the_api_answers_problems_whatever_is_preferred(browser: FlaskClient) -> None:
    for address in ("/v1/nowhere", "/v1/groups", "/v1/groups/nowhere"):
        assert browser.get(address, headers=BROWSER).mimetype == "application/problem+json"


def test_what_breaks_is_a_page_too(
    browser: FlaskClient, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr(start, "from_geometry", {}.__getitem__)
    page = browser.get("/example")
    assert (page.status_code, heading(page)) == (500, "Something broke here")
    assert "TypeError" in caplog.text


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
