"""The answer page says what the API says, in words and drawings."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from models.learning.question import Question
from service.pages import ask
from service.pages.answering import from_geometry

Typed = Callable[..., FlaskClient]


def heading(page: TestResponse) -> str:
    """Return the words of a page's heading."""
    found = re.search(r"<h1[^>]*>(.*?)</h1>", page.text, re.DOTALL)
    assert found
    return re.sub(r"<[^>]*>", "", found[1]).strip()


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
    instructions = page[page.index('id="schedule"') :]
    assert re.search(r"the sock measures \d\.\d in \(about \d+ rounds\)", instructions)
    assert not re.search(r"\d (mm|cm)\b", instructions)
    assert 'value="25,2 cm"' in browser.get("/ask/foot-length").text


def test_doubts_of_the_domain_are_shown_in_people_s_words(after_typing: Typed) -> None:
    browser = after_typing(stitches_per_10cm="42", rounds_per_10cm="30", heel_stitches="64")
    for address in ("/ask/check", "/ask/answer"):
        page = browser.get(address).text
        assert "Rounds in 10 cm is 30.0: plain knitting has 1 to 1.8 rounds" in page
        assert "_per_10cm is" not in page


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

    monkeypatch.setattr(ask, "from_geometry", telling)
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
    monkeypatch.setattr(ask, "from_geometry", lambda q: from_geometry(q) | {"evidence": evidence})
    page = after_typing().get("/ask/answer").text
    assert "150 or more reports of finished socks by 12 knitters" in page
    assert "No report of a finished sock" not in page
