"""A steward's pages: members, invitations, held reports."""

from __future__ import annotations

import re
from typing import Any

import pytest


def code_in(page: str) -> str:
    return re.search(r'<p class="code">([^<]+)</p>', page)[1]


@pytest.fixture
def joined(pool) -> Any:
    """Return a pool that somebody has joined with a code from the page."""
    made = pool.send("/members/invitations", role="designer", uses="1", days="3")
    assert made.status_code == 200
    assert made.headers["Cache-Control"] == "no-store"
    pool.guest, token = pool.someone()
    given = {"code": code_in(made.text), "name": "Wagtail", "consent_version": "3"}
    sent = pool.guest.post("/join", data={**given, "csrf_token": token})
    assert sent.status_code == 302, sent.text
    members = pool.steward.items("/members")
    pool.member = next(one["id"] for one in members if one["name"] == "Wagtail")
    return pool


def member(pool) -> dict[str, Any]:
    found: dict[str, Any] = pool.steward.get(f"/members/{pool.member}").json
    return found


def test_a_code_is_shown_once(pool) -> None:
    made = pool.send("/members/invitations", role="knitter", uses="2", days="7")
    code = code_in(made.text)
    assert code.startswith("heeldepth_")
    page = pool.get("/members/invitations").text
    assert code not in page
    assert "2 of 2 left" in page


def test_an_invitation_that_is_revoked_is_good_no_more(pool) -> None:
    code = code_in(pool.send("/members/invitations", role="knitter", uses="1", days="7").text)
    page = pool.get("/members/invitations").text
    path = re.search(r'action="([^"]*/revocation)"', page)[1].removeprefix(pool.address)
    assert pool.send(path).status_code == 303
    assert "revoked on" in pool.get("/members/invitations").text
    body = {"name": "Invented", "consent_version": 3}
    assert (
        pool.steward.client.post(f"/v1/invitations/{code}/acceptance", json=body).status_code == 404
    )


WRONG = {
    "uses": ({"uses": "many"}, 'id="uses-fault"'),
    "days": ({"days": "400"}, 'id="days-fault"'),
    "role": ({"role": "queen"}, 'id="role-fault"'),
    "nobody's place": ({"reporter": "Nobody"}, 'id="reporter-fault"'),
}


@pytest.mark.parametrize("case", WRONG)
def test_an_invitation_that_cannot_be_is_refused_beside_its_field(pool, case: str) -> None:
    changed, said = WRONG[case]
    sent = pool.send(
        "/members/invitations", **{"role": "knitter", "uses": "1", "days": "7", **changed}
    )
    assert sent.status_code == 422
    assert said in sent.text
    assert pool.steward.items("/invitations") == []


def test_a_role_is_changed_and_a_member_removed(joined) -> None:
    assert "Wagtail" in joined.get("/members").text
    assert joined.send(f"/members/{joined.member}/role", role="steward").status_code == 303
    assert member(joined)["role"] == "steward"
    assert joined.guest.get(f"{joined.address}/members").status_code == 200
    assert joined.send(f"/members/{joined.member}/role", role="knitter").status_code == 303
    assert joined.send(f"/members/{joined.member}/removal").status_code == 303
    assert joined.guest.get(joined.address).status_code == 404
    assert "left on" in joined.get("/members").text


def test_the_last_steward_stays_one(joined) -> None:
    me = next(one["id"] for one in joined.steward.items("/members") if one["name"] == "Ottoline")
    for path, form in (("role", {"role": "knitter"}), ("removal", {})):
        sent = joined.send(f"/members/{me}/{path}", **form)
        assert sent.status_code == 409
        assert "without a steward" in sent.text
    assert joined.get("/members").status_code == 200


def test_a_reset_code_is_shown_once_and_sets_a_password(joined) -> None:
    sent = joined.send(f"/members/{joined.member}/reset")
    assert sent.headers["Cache-Control"] == "no-store"
    code = code_in(sent.text)
    assert code not in joined.get("/members").text
    given = {"code": code, "password": "another four quiet words"}
    assert joined.lasting.app.test_client().post("/reset", data=given).status_code == 302


def test_stewards_are_offered_no_code_for_their_own_password(pool) -> None:
    reset = f"/members/{pool.steward.member_id}/reset"
    assert reset not in pool.get("/members").text
    sent = pool.send(reset)
    assert sent.status_code == 409
    assert "your own password" in sent.text


def held(pool) -> dict[str, Any]:
    """Hold the first report of an invented reporter, with a note."""
    pool.report(2, each=1)
    report = pool.steward.items("/reports")[0]
    pool.steward.make(f"/reports/{report['id']}/reviews", {"status": "held", "from": "counted"})
    return report


@pytest.mark.parametrize(
    ("status", "button"), [("accepted", "Let it count"), ("rejected", "Leave it out")]
)
def test_a_held_report_is_decided_with_a_reason_that_is_kept(
    pool, status: str, button: str
) -> None:
    report = held(pool)
    page = pool.get("/reviews").text
    assert report["reporter"] in page
    assert button in page
    sent = pool.send(f"/reviews/{report['id']}", status=status, text="measured again")
    assert sent.status_code == 303
    assert f"The report is {status}" in pool.browser.get(sent.location).text
    steps = pool.steward.items(f"/reports/{report['id']}/reviews")
    assert (steps[-1]["status"], steps[-1]["text"]) == (status, "measured again")
    again = pool.send(f"/reviews/{report['id']}", status=status)
    assert again.status_code == 409
    assert f"the report is {status}, not held" in again.text.lower()


def test_a_held_report_is_corrected_by_its_steward_until_its_reporter_joins(pool) -> None:
    report = held(pool)
    path = f"/socks/{report['id']}/change"
    assert f'href="{pool.address}{path}"' in pool.get("/reviews").text
    assert pool.get(path).status_code == 200
    code = pool.steward.make("/invitations", {"reporter": report["reporter"]})["code"]
    browser, token = pool.someone()
    joining = {"code": code, "consent_version": "3", "csrf_token": token}
    assert browser.post("/join", data=joining).status_code == 302
    page = pool.get("/reviews").text
    assert report["reporter"] in page
    assert path not in page


def test_without_held_reports_the_page_says_so(pool) -> None:
    assert "None is held." in pool.get("/reviews").text


def test_long_lists_stay_small_and_lead_on(pool) -> None:
    pool.report(45, each=1)
    for _ in range(62):
        pool.steward.make("/invitations")
    page = pool.get("/members")
    assert "Invented 44" not in page.text
    more = re.search(r'href="([^"]*after=[^"]*)"', page.text)[1]
    assert "Invented 44" in pool.browser.get(more).text
    assert pool.get("/members?after=%00").status_code == 200
    for report in pool.steward.items("/reports?limit=45"):
        pool.steward.make(f"/reports/{report['id']}/reviews", {"status": "held", "from": "counted"})
    assert pool.get("/reviews").text.count("Let it count") == 20
    assert "2 older ones are left out here" in pool.get("/members/invitations").text
    for path in ("/members", "/members/invitations", "/reviews"):
        assert len(pool.get(path).data) < 60_000
