"""Tell and the list of own socks, without a browser. All socks are invented."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from models.domain.reports import SYMPTOMS
from models.tables.people import IdempotencyKey
from models.tables.socks import Report
from service.pages.kept import UNIT_COOKIE

SOCK = {
    "fit_score": "-1",
    "slides_down": "1",
    "plain_rounds": "3",
    "slow_decrease_rounds": "3",
    "medium_decrease_rounds": "4",
    "fast_decrease_rounds": "5",
    "unit": "cm",
    "width": "10cm",
    "foot_length_mm": "24,8",
    "foot_circumference_mm": "23.1 cm",
    "heel_diagonal_mm": "",
    "ankle_circumference_mm": "",
    "stitches_per_10cm": "30",
    "rounds_per_10cm": "42",
    "yarn_weight": "1",
    "heel_stitches": "64",
    "decreases_per_round": "4",
    "times_washed": "2",
    "times_worn": "",
    "knitted_on": "2026-03-01",
    "notes": "invented",
}


class Knitter:
    """The knitter of `mine` at a browser, with her token beside it."""

    def __init__(self, browser: FlaskClient, csrf: Callable[[str], str], api: Any) -> None:
        self.browser, self.api = browser, api
        self.token = csrf(browser.get("/groups").text)
        self.group = f"/groups/{api.group_id}"

    def get(self, path: str) -> TestResponse:
        return self.browser.get(self.group + path)

    def send(self, path: str, **changed: str) -> TestResponse:
        form = {"csrf_token": self.token, **SOCK, **changed}
        return self.browser.post(self.group + path, data=form)

    def tell(self, **changed: str) -> str:
        """Return the id of a sock that was told of."""
        sent = self.send("/tell/sock", **changed)
        assert sent.status_code == 302, sent.text
        return re.findall(r"[0-9a-f]{32}", sent.location)[1]

    def report(self, report_id: str) -> dict[str, Any]:
        """Return what the API says of a sock."""
        found: dict[str, Any] = self.api.get(f"/reports/{report_id}").json
        return found


@pytest.fixture
def knitter(logged_in: Any, csrf: Any, lasting: Any) -> Knitter:
    return Knitter(logged_in("knitter"), csrf, lasting.mine.knitter)


def problems(page: TestResponse) -> dict[str, str]:
    """Return what a page says is wrong, by the field that it links to."""
    assert page.status_code == 422, page.status_code
    assert "<title>Error: " in page.text
    summary = page.text.split('id="problems"')[1].split("</div>")[0]
    return dict(re.findall(r'href="#(\w+)">([^<]*)</a>', summary))


def test_a_sock_that_is_told_is_the_report_of_the_api(knitter: Knitter) -> None:
    stored = knitter.report(knitter.tell())
    numbers = {name: int(text) for name, text in SOCK.items() if text.lstrip("-").isdecimal()}
    assert {name: stored[name] for name in numbers} == numbers
    assert (stored["knitted_on"], stored["notes"]) == ("2026-03-01", "invented")
    assert (stored["times_worn"], stored["status"]) == (None, "counted")
    assert {one.name: stored[one.name] for one in SYMPTOMS} == {
        one.name: int(one.name == "slides_down") for one in SYMPTOMS
    }
    foot = knitter.api.get(f"/feet/{stored['foot_id']}").json
    assert (foot["foot_length_mm"], foot["foot_circumference_mm"]) == (248, 231)
    assert foot["heel_diagonal_mm"] is None


def test_the_form_is_filled_in_from_the_suggestion_and_says_that_it_was_followed(
    knitter: Knitter, lasting: Any
) -> None:
    told = knitter.api.make("/suggestions", lasting.question(yarn_weight=2))
    assert f"/tell/sock?suggestion={told['id']}" in knitter.get("/tell").text
    page = knitter.get(f"/tell/sock?suggestion={told['id']}").text
    filled = dict(re.findall(r'name="(\w+)" value="([^"]*)" type="text"', page))
    schedule = told["schedule"]
    for name in ("plain_rounds", "slow_decrease_rounds", "heel_stitches", "decreases_per_round"):
        assert filled[name] == str(schedule[name])
    assert filled["foot_length_mm"] == f"{schedule['foot']['foot_length_mm'] / 10:g}"
    assert '<option value="2" selected>' in page
    key = re.findall(r'name="key" value="(\w+)"', page)[0]
    form = {**filled, "yarn_weight": "2", "key": key, "suggestion_id": told["id"]}
    stored = knitter.report(knitter.tell(**form))
    assert stored["suggestion_id"] == told["id"]
    assert "told already" in knitter.get("/tell").text


def test_a_form_that_is_sent_twice_records_one_sock(knitter: Knitter, lasting: Any) -> None:
    with lasting.database.read() as reading:
        before = reading.query(Report).count()
    first, second = (knitter.send("/tell/sock", key="twice" * 4) for _ in range(2))
    assert first.location == second.location
    with lasting.database.read() as reading:
        assert reading.query(Report).count() == before + 1
    changed = knitter.send("/tell/sock", key="twice" * 4, fit_score="2")
    assert changed.status_code == 422
    assert "was sent before, and is recorded as it was then" in changed.text
    with lasting.database.read() as reading:
        assert reading.query(Report).count() == before + 1


def test_a_form_that_was_refused_can_be_put_right_under_its_key(knitter: Knitter) -> None:
    assert knitter.send("/tell/sock", key="refused" * 3, heel_stitches="").status_code == 422
    assert knitter.send("/tell/sock", key="refused" * 3, heel_stitches="").status_code == 422
    assert knitter.send("/tell/sock", key="refused" * 3).status_code == 302


WRONG = {
    "nothing chosen": ({"fit_score": ""}, "fit_score", "Choose how deep the heel is."),
    "no score": ({"fit_score": "3"}, "fit_score", "Choose how deep the heel is."),
    "no length": ({"foot_length_mm": ""}, "foot_length_mm", "Type the foot length."),
    "a slip": ({"foot_length_mm": "248"}, "foot_length_mm", "Did you mean 248 mm (24.8 cm)?"),
    "no stitches": ({"heel_stitches": ""}, "heel_stitches", "Give the heel stitches."),
    "too many": ({"fast_decrease_rounds": "40"}, "heel_stitches", "64"),
    "a gauge": ({"stitches_per_10cm": "many"}, "stitches_per_10cm", "it must be a number"),
    "tomorrow": ({"knitted_on": "2099-01-01"}, "knitted_on", "it must not be in the future"),
    "no day": ({"knitted_on": "yesterday"}, "knitted_on", "a day as YYYY-MM-DD"),
    "odd foot": ({"heel_diagonal_mm": "12 cm"}, "heel_diagonal_mm", "Heel diagonal"),
    "washed": ({"times_washed": "often"}, "times_washed", "Times washed: “often” will not do"),
    "size": ({"size": "M"}, "size", "name the design"),
    "somebody": ({"reporter": "Ottoline"}, "fit_score", "A knitter may not record"),
}


@pytest.mark.parametrize("case", WRONG)
def test_what_is_wrong_is_said_with_a_link_and_what_was_typed_stays(
    knitter: Knitter, lasting: Any, case: str
) -> None:
    changed, field, said = WRONG[case]
    with lasting.database.read() as reading:
        before = reading.query(Report).count()
    page = knitter.send("/tell/sock", notes="a note to keep", **changed)
    found = problems(page)
    assert said in found[field], found
    assert f'id="{field}"' in page.text
    assert ">a note to keep</textarea>" in page.text
    for text in changed.values():
        assert f'value="{text}"' in page.text or field == "fit_score"
    with lasting.database.read() as reading:
        assert reading.query(Report).count() == before


def test_a_reading_is_taken_by_its_button(knitter: Knitter) -> None:
    page = knitter.send("/tell/sock", foot_length_mm="248")
    meant = re.findall(r'name="means" value="([^"]*)"', page.text)
    assert meant == ["foot_length_mm=248 mm"]
    report_id = knitter.tell(foot_length_mm="248", means=meant[0])
    foot = knitter.api.get(f"/feet/{knitter.report(report_id)['foot_id']}").json
    assert foot["foot_length_mm"] == 248


def test_inches_and_a_gauge_over_four_inches_are_read(knitter: Knitter) -> None:
    lengths = {"foot_length_mm": "9 3/4", "foot_circumference_mm": "9", "unit": "in"}
    gauge = {"width": "4in", "stitches_per_10cm": "32", "rounds_per_10cm": "44"}
    stored = knitter.report(knitter.tell(**lengths, **gauge))
    # By definition: 1 in = 25.4 mm; 32 in 4 in are 32 / 101.6 mm.
    assert stored["stitches_per_10cm"] == pytest.approx(32 / 1.016)
    foot = knitter.api.get(f"/feet/{stored['foot_id']}").json
    assert foot["foot_length_mm"] == pytest.approx(247.65)
    cookie = knitter.browser.get_cookie(UNIT_COOKIE)
    assert cookie
    assert cookie.value == "in"


def test_what_was_told_in_inches_is_corrected_in_inches(knitter: Knitter) -> None:
    lengths = {"foot_length_mm": "9 1/8", "foot_circumference_mm": "9", "unit": "in"}
    gauge = {"width": "4in", "stitches_per_10cm": "30", "rounds_per_10cm": "42"}
    report_id = knitter.tell(**lengths, **gauge)
    page = knitter.get(f"/socks/{report_id}/change").text
    filled = dict(re.findall(r'name="(\w+)" value="([^"]*)" type="text"', page))
    assert (filled["foot_length_mm"], filled["foot_circumference_mm"]) == ("9.125", "9")
    assert (filled["stitches_per_10cm"], filled["rounds_per_10cm"]) == ("30", "42")
    assert "Foot 9.125 in long and 9 in around; 30 stitches and 42 rounds in 4 in;" in page
    assert "<dt>Gauge in 4 in</dt><dd>30 stitches, 42 rounds</dd>" in (
        knitter.get(f"/socks/{report_id}").text
    )
    knitter.browser.set_cookie(UNIT_COOKIE, "cm")
    page = knitter.get(f"/socks/{report_id}/change").text
    filled = dict(re.findall(r'name="(\w+)" value="([^"]*)" type="text"', page))
    assert filled["foot_length_mm"] == "23.1775"
    assert filled["stitches_per_10cm"] == "30"


def test_the_socks_are_listed_newest_first_with_what_became_of_them(
    knitter: Knitter, lasting: Any
) -> None:
    report_id = knitter.tell(fit_score="2")
    listed = re.findall(r'/socks/([0-9a-f]{32})">([^<]*)<', knitter.get("/socks").text)
    assert listed[0] == (report_id, "Far too deep, with 3 slow-decrease rounds")
    held = {"status": "held", "from": "counted", "text": "an invented doubt"}
    steward = lasting.mine.steward
    assert steward.post(f"/reports/{report_id}/reviews", held).status_code == 201
    assert "held back" in knitter.get("/socks").text
    page = knitter.get(f"/socks/{report_id}").text
    assert "Held back:" in page
    assert "an invented doubt" in page
    sent = knitter.send(f"/socks/{report_id}/change", version="2", fit_score="1")
    page = knitter.browser.get(sent.location).text
    assert "The correction is stored." in page
    assert "It counts: calibrations" in page
    assert "corrected by the reporter" in page


def test_a_correction_changes_what_differs_and_measures_anew_only_what_was(
    knitter: Knitter,
) -> None:
    report_id = knitter.tell()
    before = knitter.report(report_id)
    page = knitter.get(f"/socks/{report_id}/change").text
    assert 'name="version" value="1"' in page
    assert 'value="24.8"' in page
    knitter.send(f"/socks/{report_id}/change", version="1", fit_score="0", times_washed="")
    after = knitter.report(report_id)
    changed = {name for name in before if before[name] != after[name]}
    assert changed == {"fit_score", "times_washed", "version", "updated_at"}
    knitter.send(f"/socks/{report_id}/change", version="2", heel_diagonal_mm="31,5")
    again = knitter.report(report_id)
    assert again["foot_id"] != before["foot_id"]
    foot = knitter.api.get(f"/feet/{again['foot_id']}").json
    assert (foot["heel_diagonal_mm"], foot["foot_length_mm"]) == (315, 248)


def test_a_correction_of_what_was_changed_meanwhile_shows_both_and_changes_nothing(
    knitter: Knitter,
) -> None:
    report_id = knitter.tell(notes="at first")
    changed = {"fit_score": 2, "notes": "from elsewhere"}
    knitter.api.patch(f"/reports/{report_id}", changed, If_Match="*")
    page = knitter.send(f"/socks/{report_id}/change", version="1", notes="from here")
    assert page.status_code == 409
    rows = re.findall(r'scope="row">([^<]*)</th><td>([^<]*)</td><td>([^<]*)<', page.text)
    assert rows == [
        ("Fit score", "far too deep", "a little shallow"),
        ("Notes", "from elsewhere", "from here"),
    ]
    assert knitter.report(report_id)["notes"] == "from elsewhere"
    assert 'name="version" value="2"' in page.text
    assert knitter.send(f"/socks/{report_id}/change", version="2", notes="from here").location
    assert knitter.report(report_id)["notes"] == "from here"


def test_a_wrong_correction_is_refused_with_what_was_typed(knitter: Knitter) -> None:
    report_id = knitter.tell()
    page = knitter.send(f"/socks/{report_id}/change", version="1", fast_decrease_rounds="40")
    assert "heel_stitches" in problems(page)
    assert 'value="40"' in page.text
    assert knitter.report(report_id)["fast_decrease_rounds"] == 5


def test_a_sock_is_taken_back_for_good_and_only_as_it_was_read(
    knitter: Knitter, lasting: Any
) -> None:
    made = knitter.api.post("/reports", lasting.report(notes="canary"), Idempotency_Key="k-back")
    report_id = made.json["id"]
    assert knitter.send(f"/socks/{report_id}/back", version="7").status_code == 412
    sent = knitter.send(f"/socks/{report_id}/back", version="1")
    assert "The report is deleted" in knitter.browser.get(sent.location).text
    assert knitter.api.get(f"/reports/{report_id}").status_code == 404
    assert knitter.get(f"/socks/{report_id}").status_code == 404
    with lasting.database.read() as reading:
        kept = reading.query(IdempotencyKey.body).filter(IdempotencyKey.body.contains("canary"))
        assert kept.all() == []


def test_another_sock_is_told_like_one_before(knitter: Knitter) -> None:
    report_id = knitter.tell(heel_diagonal_mm="31,5", notes="about the first")
    page = knitter.get(f"/tell/sock?like={report_id}").text
    assert 'value="31.5"' in page
    assert "about the first" not in page
    assert not re.search(r'name="fit_score"[^>]* checked', page)


def test_who_has_told_nothing_is_told_what_to_do(logged_in: Any, csrf: Any, lasting: Any) -> None:
    browser = logged_in("designer")
    group = f"/groups/{lasting.mine.steward.group_id}"
    assert "You have told of no sock yet." in browser.get(f"{group}/socks").text
    assert "A sock without a suggestion" in browser.get(f"{group}/tell").text


def test_socks_of_others_are_not_there(knitter: Knitter, logged_in: Any) -> None:
    report_id = knitter.tell()
    others = logged_in("designer")
    for path in ("", "/change"):
        assert others.get(f"{knitter.group}/socks/{report_id}{path}").status_code == 404
    assert others.get(f"{knitter.group}/tell/sock?like={report_id}").status_code == 404


def test_a_steward_tells_for_a_reporter_who_has_not_joined(
    logged_in: Any, csrf: Any, lasting: Any
) -> None:
    steward = Knitter(logged_in("steward"), csrf, lasting.mine.steward)
    assert "Whose sock, if not yours" in steward.get("/tell/sock").text
    report_id = steward.tell(reporter="Invented Grebe")
    assert steward.report(report_id)["reporter"] == "Invented Grebe"
    page = steward.get(f"/socks/{report_id}").text
    assert "<dd>Invented Grebe</dd>" in page
    steward.send(f"/socks/{report_id}/change", version="1", heel_diagonal_mm="31,5")
    assert steward.report(report_id)["version"] == 2


def test_a_stewards_own_socks_are_listed_apart_from_those_of_others(
    logged_in: Any, csrf: Any, lasting: Any, knitter: Knitter
) -> None:
    steward = Knitter(logged_in("steward"), csrf, lasting.mine.steward)
    theirs, mine = steward.tell(reporter="Invented Dabchick"), steward.tell()
    own, others = (steward.get(f"/socks{query}").text for query in ("", "?of=others"))
    assert (mine in own, theirs in own) == (True, False)
    assert (mine in others, theirs in others) == (False, True)
    assert "<h1>Socks written down for others</h1>" in others
    assert 'of=others"' in own
    assert "of=others" not in knitter.get("/socks?of=others").text, "a knitter has none"
