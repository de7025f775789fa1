"""What a group knows, as its page shows it: the card's figures, and nobody's single socks."""

from __future__ import annotations

import re
from typing import Any

import pytest

from models.tables.learned import Calibration
from service.pages.exploring import COOKIE, sliders
from service.pages.invented import INVENTED

FIRST_CELLS = re.compile(r'<th scope="row">([^<]*)</th>((?:<td[^>]*>[^<]*</td>)+)')
CELLS = re.compile(r"<td[^>]*>([^<]*)</td>")


def rows(page: str, caption: str) -> dict[str, list[str]]:
    """Return the cells of every row of a table, by its first cell."""
    table = page.split(f'<caption class="unseen">{caption}</caption>')[1].split(
        "</table>", maxsplit=1
    )[0]
    return {first: CELLS.findall(rest) for first, rest in FIRST_CELLS.findall(table)}


def as_shown(value: float | None) -> str:
    if value is None:
        return "\N{EN DASH}"
    text = str(value) if isinstance(value, int) else f"{value:.2f}"
    return text.replace("-0.00", "0.00").replace("-", "\N{MINUS SIGN}")


def test_a_group_without_calibration_says_what_comes_next(pool) -> None:
    page = pool.get("/learn")
    assert page.status_code == 200
    assert "Geometry answers here: no calibration does yet." in page.text
    assert "record finished socks with their fit score" in page.text
    assert page.text.count("Nothing to show yet") == 3
    assert "<circle" not in page.text


def test_nine_people_show_no_figure_and_no_dot(pool) -> None:
    pool.report(9)
    pool.calibrated()
    page = pool.get("/learn").text
    assert "Its figures are not shown: too few people yet." in page
    assert 'class="mean"' not in page
    assert 'class="curve"' not in page
    assert "Scores by depth" not in page


@pytest.fixture
def learned(known_pool) -> Any:
    """Return the group that tests only read."""
    return known_pool[0]


@pytest.fixture
def made(known_pool) -> dict[str, Any]:
    """Return its calibration."""
    return known_pool[1]


def test_every_table_is_the_card_s(learned, made) -> None:
    page = learned.get("/learn").text
    path = f"/calibrations/{made['id']}/card"
    sections = {one["key"]: one for one in learned.steward.get(path).json["sections"]}
    shown = ("scores_by_depth", "expected_scores", "reliability", "reports_by_foot_length_mm")
    for key in shown:
        section = sections[key]
        assert section["rows"]
        found = rows(page, section["title"])
        assert len(found) == len(section["rows"])
        for row in section["rows"]:
            wanted = [as_shown(row[name]) for name in section["columns"]]
            label = row["label"][0].upper() + row["label"][1:]
            assert found[label] == wanted
    assert page.count('class="mean"') == sum(
        len(sections[key]["rows"]) for key in ("scores_by_depth", "reliability")
    )


def test_own_socks_are_squares_that_nobody_else_sees(learned) -> None:
    page = learned.get("/learn").text
    assert page.count('class="own"') == 3
    scores = [
        one["fit_score"]
        for one in learned.steward.items("/reports?limit=200")
        if one["reporter"] == "Ottoline"
    ]
    table = page.split('<caption class="unseen">Your own socks</caption>')[1].split("</table>")[0]
    assert sorted(int(cell) for cell in CELLS.findall(table)) == sorted(scores)
    theirs = as_knitter(learned, "Wagtail").text
    assert 'class="own"' not in theirs
    assert "Your own socks" not in theirs


def as_knitter(pool: Any, name: str) -> Any:
    """Return the page of somebody who has just joined to knit."""
    code = pool.steward.make("/invitations", {"role": "knitter"})["code"]
    other, token = pool.someone()
    given = {"code": code, "name": name, "consent_version": "3", "csrf_token": token}
    assert other.post("/join", data=given).status_code == 302
    return other.get(f"{pool.address}/learn")


def test_knitters_see_whole_scores_and_why_no_more(learned, made) -> None:
    page = as_knitter(learned, "Dunnock").text
    path = f"/calibrations/{made['id']}/card"
    sections = {one["key"]: one for one in learned.steward.get(path).json["sections"]}
    exact = {row["label"].capitalize(): row for row in sections["scores_by_depth"]["rows"]}
    found = rows(page, "Scores by depth, in whole scores")
    assert found.keys() == exact.keys()
    for label, (_, value) in found.items():
        assert value == as_shown(round(exact[label]["value"]))
    assert page.count('class="mean"') == len(exact) > 0
    assert 'class="error"' not in page
    assert 'class="curve"' not in page
    for caption in ("Expected scores by depth", "Stated and reached chances", "Reports by"):
        assert caption not in page
    assert page.count("help to guess who is in the group") == 3, "one sentence a section says why"
    assert "Chances by slow-decrease rounds" in page
    assert "standard error" not in page


def test_what_comes_after_and_what_is_older_is_told_too(pool) -> None:
    pool.report(12, each=3, own=2)
    made = pool.calibrated()
    assert "Fewer than 10 people have reported since" in pool.get("/learn").text
    pool.report(12, each=2)
    page = pool.get("/learn").text
    told = pool.steward.get(f"/calibrations/{made['id']}/outcomes").json
    assert told["text"] in page
    found = rows(page, "Stated and reached since")
    assert len(found) == len(told["table"]) > 0
    for band in told["table"]:
        label = f"{100 * band['low']:.0f} to {100 * band['high']:.0f} %"
        assert found[label][2:4] == [str(band["reports"]), str(band["reporters"])]
    with pool.lasting.database.write.begin() as session:
        row = session.get_one(Calibration, made["id"])
        stored = row.diagnostics["figures"]
        kept = {name: stored[name] for name in stored if name not in ("slices", "curve")}
        row.diagnostics = {**row.diagnostics, "figures": kept}
    older = pool.get("/learn")
    assert older.status_code == 200
    assert "Reports by foot length" in older.text
    assert older.text.count('class="own"') == 2


FOOT = {
    "foot_length_mm": "25,2",
    "foot_circumference_mm": "23.6 cm",
    "heel_diagonal_mm": "318 mm",
    "ankle_circumference_mm": "",
    "stitches_per_10cm": "30",
    "rounds_per_10cm": "42",
    "yarn_weight": "1",
}


def test_the_chances_of_a_foot_are_those_of_a_suggestion(learned) -> None:
    sent = learned.send("/learn/foot", **FOOT)
    assert sent.location == f"{learned.address}/learn#chances"
    page = learned.get("/learn").text
    assert 'value="25,2"' in page
    question = {
        "foot": {"foot_length_mm": 252, "foot_circumference_mm": 236, "heel_diagonal_mm": 318},
        "yarn_weight": 1,
        "stitches_per_10cm": 30,
        "rounds_per_10cm": 42,
        "heel_stitches": int(re.search(r"foot: (\d+) around the opening", page)[1]),
        "closing_stitches": 16,
        "medium_decrease_rounds": 4,
    }
    told = learned.steward.make("/suggestions", question)
    found = rows(page, "Chances by slow-decrease rounds")
    assert len(found) == len(told["curve"])
    for one in told["curve"]:
        names = ("chance_too_shallow", "chance_just_right", "chance_too_deep")
        wanted = [f"{100 * one[name]:.0f} %" for name in names]
        assert found[str(one["slow_decrease_rounds"])][1:] == wanted


def test_what_is_set_stays_in_a_cookie_for_this_page_and_nowhere_else(pool) -> None:
    sent = pool.send("/learn/foot", **FOOT)
    cookie = next(c for c in sent.headers.getlist("Set-Cookie") if c.startswith(COOKIE))
    assert f"Path={pool.address}/learn" in cookie
    assert "HttpOnly" in cookie
    assert sent.location == f"{pool.address}/learn#chances", "no measurement is in an address"
    assert pool.steward.items("/feet") == []


def test_a_wrong_entry_is_named_beside_its_field_and_the_others_stay(pool) -> None:
    pool.send("/learn/foot", **{**FOOT, "heel_diagonal_mm": "long", "rounds_per_10cm": "many"})
    page = pool.get("/learn").text
    assert "No chances yet" in page
    assert 'id="heel_diagonal_mm-fault"' in page
    assert 'id="rounds_per_10cm-fault"' in page
    assert page.count('aria-invalid="true"') == 2
    assert 'value="23.6 cm"' in page


def test_sliders_hold_nearly_every_adult_and_the_invented_foot() -> None:
    for name, value in INVENTED.foot.items():
        slider = sliders()[name]
        assert slider.low < value / 10 < slider.high
        assert slider.high - slider.low < 20


def test_pages_stay_small(learned, made) -> None:
    paths = ("/learn", "/calibrations", f"/calibrations/{made['id']}")
    for path in paths:
        assert len(learned.get(path).data) < 60_000
