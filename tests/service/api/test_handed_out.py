"""Codes are good no longer than whoever made them may make them. All names are invented."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest
from sqlalchemy import select

from models.actions import members
from models.actions.actor import operator
from models.actions.erasing import Leaving
from models.actions.resets import issue_for_username
from models.domain.roles import Role
from models.tables.base import now
from models.tables.invitations import Invitation
from models.tables.people import Member
from service.erasing import erase_now
from service.sessions import COOKIE
from tests.service.api.test_accounts import Browser

KNOWN = {"username": "wigeon", "password": "invented password"}
NEW = "another invented password"


@pytest.fixture
def second(world: Any) -> Any:
    """Return a second steward of `mine`."""
    return world.member(world.mine.steward.group_id, "Wigeon", "steward")


def comes_in(world: Any, code: str, who: Any = None) -> int:
    """Return how accepting a code is answered, by somebody new unless somebody comes back."""
    body = {"name": "Invented newcomer", "consent_version": 3}
    path = f"/v1/invitations/{code}/acceptance"
    answer = who.post(path, body) if who else world.client.post(path, json=body)
    return int(answer.status_code)


def removed(world: Any, who: Any) -> None:
    steward = world.mine.steward
    assert steward.delete(f"/members/{who.member_id}", If_Match="*").status_code == 204


def demoted(world: Any, who: Any) -> None:
    steward = world.mine.steward
    changed = steward.patch(f"/members/{who.member_id}", {"role": "knitter"}, If_Match="*")
    assert changed.status_code == 200


def left(_world: Any, who: Any) -> None:
    assert who.delete("/members/me").status_code == 204


def erased(world: Any, who: Any) -> None:
    assert who.delete("/v1/me").status_code == 200


def place_erased(_world: Any, who: Any) -> None:
    assert who.delete(f"/v1/me/places/{who.member_id}").status_code == 200


def removed_by_the_operator(world: Any, who: Any) -> None:
    with world.database.write.begin() as session:
        members.remove(session, members.member_named(session, operator(who.group_id), who.name))


def demoted_by_the_operator(world: Any, who: Any) -> None:
    with world.database.write.begin() as session:
        by = operator(who.group_id)
        member = members.member_named(session, by, who.name)
        members.change_role(session, by, member, Role.DESIGNER)


def by_page(world: Any, what: str, who: Any, **form: str) -> None:
    """Send a form of the members' page, as the other steward."""
    steward, browser = world.mine.steward, Browser(world)
    steward.make("/v1/accounts", {**KNOWN, "username": "sanderling"})
    browser.login(username="sanderling", password=KNOWN["password"])
    path = f"/groups/{who.group_id}/members/{who.member_id}/{what}"
    data = {"csrf_token": browser.csrf, **form}
    headers = {"Cookie": f"{COOKIE}={browser.cookie}"}
    assert browser.client.post(path, data=data, headers=headers).status_code == 303


def removed_by_page(world: Any, who: Any) -> None:
    by_page(world, "removal", who)


def demoted_by_page(world: Any, who: Any) -> None:
    by_page(world, "role", who, role="knitter")


ENDS = [
    removed,
    removed_by_page,
    removed_by_the_operator,
    demoted,
    demoted_by_page,
    demoted_by_the_operator,
    left,
    erased,
    place_erased,
]


@pytest.mark.parametrize("end", ENDS)
def test_a_steward_who_is_one_no_more_lets_nobody_in(world: Any, second: Any, end: Any) -> None:
    second.make("/reports", world.report(reporter="Invented reporter"))
    place = {"reporter": "Invented reporter"}
    asked = [{"role": "steward"}, {"role": "knitter", "uses": 5}, place]
    codes = [second.make("/invitations", one)["code"] for one in asked]
    others = world.theirs.steward.make("/invitations")["code"]
    kept = world.mine.steward.make("/invitations")["code"]
    end(world, second)
    assert [comes_in(world, code) for code in codes] == [404, 404, 404]
    if end in (removed, left):
        assert comes_in(world, codes[0], second) == 404, "who was removed does not come back"
    assert [comes_in(world, code) for code in (others, kept)] == [201, 201]
    with world.database.read() as session:
        open_ones = select(Invitation.id).where(Invitation.revoked_at.is_(None))
        assert len(session.scalars(open_ones).all()) == 2


def test_an_invitation_is_checked_against_its_maker_when_it_is_used(
    world: Any, second: Any
) -> None:
    code = second.make("/invitations")["code"]
    with world.database.write.begin() as session:
        row = session.scalars(select(Invitation)).one()
        row.member_id = world.mine.knitter.member_id
    assert comes_in(world, code) == 404


def test_erasing_another_member_revokes_nothing_of_others(world: Any, second: Any) -> None:
    code = second.make("/invitations")["code"]
    knitter = world.mine.knitter
    with world.database.read() as session:
        person = session.get_one(Member, knitter.member_id).person_id
    erase_now(world.database, Leaving({knitter.group_id: {knitter.member_id: person}}, person))
    assert comes_in(world, code) == 201


def test_a_token_of_one_scope_gives_nobody_more_than_it_has(world: Any, is_problem: Any) -> None:
    steward = world.mine.steward
    asked = {"label": "narrow", "scopes": ["steward"], "days": 1}
    narrow_one = steward.make("/v1/tokens", asked)
    narrow = replace(steward, token=narrow_one["token"])
    steward.make("/reports", world.report(reporter="Invented reporter"))
    place = {"reporter": "Invented reporter"}  # with all that was written down for them
    for wide in ({"role": "steward"}, {"role": "designer"}, place):
        is_problem(narrow.post("/invitations", wide), 403)
    member = f"/members/{world.mine.knitter.member_id}"
    is_problem(narrow.patch(member, {"role": "steward"}, If_Match="*"), 403)
    is_problem(narrow.post(f"{member}/password-reset"), 403)
    made = narrow.make("/invitations", {"role": "knitter", "days": 90})
    ends = [datetime.fromisoformat(one["expires_at"]) for one in (made, narrow_one)]
    assert ends[0] == ends[1], "an invitation lasts no longer than the token that made it"
    lasting = steward.make("/invitations", {"days": 90})["expires_at"]
    assert datetime.fromisoformat(lasting) > now() + timedelta(days=89)


def changed(world: Any, who: Any) -> None:
    body = {**KNOWN, "password": NEW, "current_password": KNOWN["password"]}
    assert who.post("/v1/accounts", body).status_code == 201


def reset(world: Any, who: Any) -> None:
    code = world.mine.steward.make(f"/members/{who.member_id}/password-reset")["code"]
    assert uses(world, code) == 204


def uses(world: Any, code: str) -> int:
    body = {"code": code, "password": NEW}
    return int(world.client.post("/v1/accounts/password", json=body).status_code)


@pytest.mark.parametrize("cure", [changed, reset])
def test_what_was_handed_out_before_does_not_outlive_a_new_password(
    world: Any, second: Any, cure: Any
) -> None:
    second.make("/v1/accounts", KNOWN)
    knitter = world.mine.knitter
    knitter.make("/v1/accounts", {**KNOWN, "username": "wren"})
    invited = second.make("/invitations", {"role": "steward"})["code"]
    of_knitter = second.make(f"/members/{knitter.member_id}/password-reset")["code"]
    kept = world.mine.steward.make("/invitations")["code"]
    cure(world, second)
    assert (comes_in(world, invited), uses(world, of_knitter)) == (404, 404)
    assert comes_in(world, kept) == 201
    assert knitter.get("/v1/groups").status_code == 200


def test_a_code_for_a_new_password_is_void_once_the_password_is_changed(
    world: Any, second: Any
) -> None:
    second.make("/v1/accounts", KNOWN)
    code = world.mine.steward.make(f"/members/{second.member_id}/password-reset")["code"]
    world.theirs.knitter.make("/v1/accounts", {**KNOWN, "username": "wren"})
    with world.database.write.begin() as session:
        operators, _ = issue_for_username(session, "wren")
    changed(world, second)
    assert uses(world, code) == 404
    assert uses(world, operators) == 204, "that of another person"


def test_a_stewards_token_does_not_stand_in_for_the_password(
    world: Any, second: Any, is_problem: Any
) -> None:
    second.make("/v1/accounts", KNOWN)
    refused = is_problem(second.post(f"/members/{second.member_id}/password-reset"), 403)
    assert "your own password" in refused["detail"]
