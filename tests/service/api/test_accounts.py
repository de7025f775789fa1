"""Usernames, sessions by cookie, and forgotten passwords. All names are invented."""

from __future__ import annotations

from datetime import timedelta
from http.cookies import SimpleCookie
from typing import Any

import pytest
from argon2 import PasswordHasher, extract_parameters

from models.actions import accounts
from models.actions.accounts import open_session
from models.domain import codes
from models.tables.accounts import Account, LoginSession, PasswordReset
from models.tables.base import now
from models.tables.people import Member
from service.sessions import COOKIE, CSRF_HEADER

KNOWN = {"username": "wren.one", "password": "invented password"}
NEW = "another invented password"


@pytest.fixture
def knitter(world: Any) -> Any:
    """Return the knitter of `mine`, who has set a username and a password."""
    assert world.mine.knitter.post("/v1/accounts", KNOWN).status_code == 201
    return world.mine.knitter


class Browser:
    """Somebody at a browser: it keeps cookies as it is told, and sends the CSRF token."""

    def __init__(self, world: Any) -> None:
        self.client = world.app.test_client(use_cookies=False)
        self.cookie: str | None = None
        self.csrf = ""
        self.flags: dict[str, Any] = {}

    def ask(self, method: str, path: str, body: Any = None, **headers: str) -> Any:
        sent = {name.replace("_", "-"): value for name, value in headers.items()}
        if self.cookie is not None:
            sent["Cookie"] = f"{COOKIE}={self.cookie}"
        answer = self.client.open(path, method=method, json=body, headers=sent)
        for line in answer.headers.getlist("Set-Cookie"):
            self.flags = dict(SimpleCookie(line)[COOKIE])
            self.cookie = SimpleCookie(line)[COOKIE].value or None
        return answer

    def login(self, **changed: str) -> Any:
        answer = self.ask("POST", "/v1/sessions", {**KNOWN, **changed})
        if answer.status_code == 201:
            self.csrf = answer.json["csrf_token"]
        return answer


@pytest.fixture
def browser(world: Any) -> Browser:
    return Browser(world)


def test_an_account_is_read_back_without_its_password(world: Any, knitter: Any) -> None:
    answer = knitter.get("/v1/accounts")
    assert (answer.json["username"], answer.json["reset_at"]) == ("wren.one", None)
    assert "password" not in answer.text
    with world.database.read() as session:
        stored = session.query(Account).one().password_hash
    # RFC 9106, section 4: Argon2id, at least its second option of 64 MiB and 3 passes.
    parameters = extract_parameters(stored)
    assert stored.startswith("$argon2id$")
    assert (parameters.memory_cost, parameters.time_cost) >= (65536, 3)
    assert PasswordHasher().verify(stored, KNOWN["password"])


def test_who_logs_in_gets_a_cookie_that_no_script_and_no_other_host_gets(
    knitter: Any, browser: Browser
) -> None:
    answer = browser.login(username="WREN.one")
    assert answer.status_code == 201
    assert COOKIE.startswith("__Host-")
    flags = browser.flags
    assert (flags["secure"], flags["httponly"], flags["samesite"]) == (True, True, "Lax")
    assert (flags["path"], flags["domain"], flags["max-age"]) == ("/", "", "43200")
    assert browser.cookie not in answer.text
    read = browser.ask("GET", f"/v1/groups/{knitter.group_id}/feet")
    assert read.status_code == 200
    assert [one["name"] for one in browser.ask("GET", "/v1/groups").json["items"]]


def test_a_change_by_cookie_needs_what_only_our_pages_know(
    world: Any, knitter: Any, browser: Browser, is_problem: Any
) -> None:
    browser.login()
    path = f"/v1/groups/{knitter.group_id}/feet"
    for wrong in ({}, {"X_CSRF_Token": ""}, {"X_CSRF_Token": "0" * 64}):
        problem = is_problem(browser.ask("POST", path, world.foot(), **wrong), 403)
        assert CSRF_HEADER in problem["detail"]
    assert knitter.items("/feet") == []
    made = browser.ask("POST", path, world.foot(), X_CSRF_Token=browser.csrf)
    assert made.status_code == 201
    assert knitter.post("/feet", world.foot()).status_code == 201, "a bearer token needs none"


def test_a_session_has_a_new_id_at_every_login_and_the_one_before_ends(
    world: Any, knitter: Any, browser: Browser, is_problem: Any
) -> None:
    browser.login()
    first = browser.cookie
    browser.login()
    assert browser.cookie != first
    browser.cookie, second = first, browser.cookie
    is_problem(browser.ask("GET", "/v1/groups"), 401)
    browser.cookie = second
    assert browser.ask("GET", "/v1/groups").status_code == 200


def test_an_id_that_somebody_else_chose_is_never_taken_up(knitter: Any, browser: Browser) -> None:
    chosen = codes.new_code(codes.SESSION)
    browser.cookie = chosen
    browser.login()
    assert browser.cookie != chosen


def test_logging_out_ends_the_session_itself(
    knitter: Any, browser: Browser, is_problem: Any
) -> None:
    browser.login()
    kept = browser.cookie
    is_problem(browser.ask("DELETE", "/v1/sessions"), 403)
    out = browser.ask("DELETE", "/v1/sessions", X_CSRF_Token=browser.csrf)
    assert (out.status_code, browser.cookie) == (204, None)
    browser.cookie = kept
    is_problem(browser.ask("GET", "/v1/groups"), 401)


def test_logging_out_ends_no_other_session(world: Any, knitter: Any, browser: Browser) -> None:
    """Neither another one of the same person nor that of somebody else."""
    browser.login()
    other = browser.cookie
    browser.cookie = None
    browser.login()
    with world.database.write.begin() as session:
        person_id = session.get_one(Member, world.theirs.knitter.member_id).person_id
        foreign = open_session(session, person_id)
    assert browser.ask("DELETE", "/v1/sessions", X_CSRF_Token=browser.csrf).status_code == 204
    for kept in (other, foreign):
        browser.cookie = kept
        assert browser.ask("GET", "/v1/groups").status_code == 200


def test_a_session_ends_after_twelve_hours(
    world: Any, knitter: Any, browser: Browser, is_problem: Any
) -> None:
    browser.login()
    with world.database.write.begin() as session:
        row = session.query(LoginSession).one()
        assert abs(row.expires_at - now() - timedelta(hours=12)) < timedelta(minutes=1)
        row.expires_at = now()
    is_problem(browser.ask("GET", "/v1/groups"), 401)
    browser.login()
    with world.database.read() as session:
        assert session.query(LoginSession).count() == 1, "what has ended is forgotten"


def test_a_wrong_username_is_answered_like_a_wrong_password_after_as_much_work(
    world: Any, knitter: Any, is_problem: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    verified: list[str] = []
    hashed: list[str] = []

    class Counting(PasswordHasher):
        def verify(self, hash: str | bytes, password: str | bytes) -> bool:  # noqa: A002
            verified.append(str(hash))
            return super().verify(hash, password)

        def hash(self, password: str | bytes, *, salt: bytes | None = None) -> str:
            hashed.append("one more")
            return super().hash(password, salt=salt)

    monkeypatch.setattr(accounts, "HASHER", Counting())
    said = []
    for wrong in ({"username": "nobody.here"}, {"password": "wrong"}, {"username": "wren.two"}):
        before = len(verified)
        said.append(is_problem(Browser(world).login(**wrong), 401))
        assert len(verified) == before + 1
    assert said[0] == said[1] == said[2]
    assert hashed == []
    costs = {str(extract_parameters(one)) for one in verified}
    assert len(costs) == 1, "the hash that nobody has costs what others cost"


def test_a_new_password_ends_every_session_and_revokes_every_token(
    world: Any, knitter: Any, browser: Browser, is_problem: Any
) -> None:
    browser.login()
    changed = {**KNOWN, "password": NEW, "current_password": KNOWN["password"]}
    spare = knitter.make("/v1/tokens", {"label": "spare", "scopes": ["read"], "days": 1})["token"]
    assert knitter.post("/v1/accounts", changed).status_code == 201
    is_problem(browser.ask("GET", "/v1/groups"), 401)
    for token in (knitter.token, spare):
        is_problem(browser.client.get("/v1/groups", headers=bearer(token)), 401)
    is_problem(browser.login(), 401)
    assert browser.login(password=NEW).status_code == 201


def test_a_username_is_had_once_and_kept(world: Any, knitter: Any, faults: Any) -> None:
    assert list(faults(world.theirs.knitter.post("/v1/accounts", KNOWN))) == ["/username"]
    other = {**KNOWN, "username": "wren.two"}
    assert "it stays" in faults(knitter.post("/v1/accounts", other))["/username"]


@pytest.mark.parametrize(
    ("wrong", "pointer"),
    [
        ({"username": "ab"}, "/username"),
        ({"username": "-wren"}, "/username"),
        ({"username": "wren one"}, "/username"),
        ({"username": "w" * 41}, "/username"),
        ({"password": "elevenchars"}, "/password"),
        ({"password": "x" * 201}, "/password"),
        ({"password": None}, "/password"),
    ],
)
def test_an_account_that_cannot_be_says_what_can_and_never_gives_a_password_back(
    lasting: Any, faults: Any, wrong: dict[str, Any], pointer: str
) -> None:
    answer = lasting.mine.knitter.post("/v1/accounts", {**KNOWN, **wrong})
    assert list(faults(answer)) == [pointer]
    if pointer == "/password":
        assert answer.json["errors"][0]["value"] in (None, "(not shown)")
        assert "elevenchars" not in answer.text


def bearer(token: str) -> dict[str, str]:
    return {"Authorization": f"Bearer {token}"}


@pytest.mark.parametrize("given", [{}, {"current_password": "not the password"}])
def test_a_password_is_changed_only_by_who_knows_it(
    knitter: Any, browser: Browser, is_problem: Any, given: dict[str, str]
) -> None:
    browser.login()
    new = {**KNOWN, "password": NEW, **given}
    problem = is_problem(knitter.post("/v1/accounts", new), 403)
    assert "current_password" in problem["detail"]
    assert NEW not in problem["detail"]
    is_problem(browser.ask("POST", "/v1/accounts", new, X_CSRF_Token=browser.csrf), 403)
    assert browser.login().status_code == 201, "nothing was changed"


@pytest.mark.parametrize("wide", [{}, {"days": 1}, {"scopes": ["read"]}])
def test_a_token_of_every_scope_or_without_end_needs_the_password(
    knitter: Any, is_problem: Any, wide: dict[str, Any]
) -> None:
    asked = {"label": "invented", **wide}
    is_problem(knitter.post("/v1/tokens", asked), 403)
    wrong = {**asked, "current_password": "not the password"}
    is_problem(knitter.post("/v1/tokens", wrong), 403)
    assert knitter.post("/v1/tokens", {**asked, "scopes": ["read"], "days": 1}).status_code == 201
    right = {**asked, "current_password": KNOWN["password"]}
    assert knitter.post("/v1/tokens", right).status_code == 201


def test_nobody_is_erased_without_the_password_that_they_have(
    world: Any, knitter: Any, is_problem: Any
) -> None:
    place = f"/v1/me/places/{knitter.member_id}"
    for path in ("/v1/me", place):
        is_problem(knitter.delete(path), 403)
        wrong = {"current_password": "not the password"}
        is_problem(knitter.ask("DELETE", path, json=wrong), 403)
        is_problem(knitter.delete(path, Prefer="respond-async"), 403)
    right = {"current_password": KNOWN["password"]}
    assert knitter.ask("DELETE", place, json=right).status_code == 200
    assert knitter.ask("DELETE", "/v1/me", json=right).status_code == 200
    assert world.theirs.knitter.delete("/v1/me").status_code == 200, (
        "who has no password needs none"
    )


def test_the_next_login_says_once_that_the_password_was_replaced(
    world: Any, knitter: Any, browser: Browser
) -> None:
    assert browser.login().json["password_replaced_at"] is None
    code = reset(world.mine.steward, knitter).json["code"]
    world.client.post("/v1/accounts/password", json={"code": code, "password": NEW})
    assert browser.login(password=NEW).json["password_replaced_at"] is not None
    assert browser.login(password=NEW).json["password_replaced_at"] is None


def test_a_reset_password_revokes_tokens_that_were_made_before(
    world: Any, knitter: Any, is_problem: Any
) -> None:
    code = reset(world.mine.steward, knitter).json["code"]
    assert knitter.get("/v1/groups").status_code == 200
    world.client.post("/v1/accounts/password", json={"code": code, "password": NEW})
    is_problem(knitter.get("/v1/groups"), 401)


def test_one_logout_ends_nobody_elses_session(
    world: Any, knitter: Any, browser: Browser, is_problem: Any
) -> None:
    other = Browser(world)
    mine = {**KNOWN, "username": "wren.two"}
    assert world.theirs.knitter.post("/v1/accounts", mine).status_code == 201
    browser.login()
    other.login(username="wren.two")
    browser.ask("DELETE", "/v1/sessions", X_CSRF_Token=browser.csrf)
    assert other.ask("GET", "/v1/groups").status_code == 200


def reset(who: Any, member: Any) -> Any:
    return who.post(f"/members/{member.member_id}/password-reset")


def test_a_code_from_a_steward_sets_a_new_password_once(
    world: Any, knitter: Any, browser: Browser, is_problem: Any
) -> None:
    browser.login()
    first, second = (reset(world.mine.steward, knitter).json["code"] for _ in range(2))
    answers = [
        world.client.post("/v1/accounts/password", json={"code": code, "password": NEW})
        for code in (first, second, second, "nonsense")
    ]
    assert [one.status_code for one in answers] == [404, 204, 404, 404], "the newest, once"
    is_problem(browser.ask("GET", "/v1/groups"), 401)
    is_problem(browser.login(), 401)
    assert browser.login(password=NEW).status_code == 201
    assert browser.ask("GET", "/v1/accounts").json["reset_at"] is not None


def test_a_code_runs_out_after_a_day(world: Any, knitter: Any, is_problem: Any) -> None:
    code = reset(world.mine.steward, knitter).json["code"]
    with world.database.write.begin() as session:
        row = session.query(PasswordReset).one()
        assert abs(row.expires_at - now() - timedelta(hours=24)) < timedelta(minutes=1)
        row.expires_at = now()
    body = {"code": code, "password": NEW}
    is_problem(world.client.post("/v1/accounts/password", json=body), 404)


def test_a_steward_opens_no_account_of_somebody_who_is_in_another_group_too(
    world: Any, knitter: Any, is_problem: Any
) -> None:
    body = {"name": "Invented second group", "steward": "Kestrel", "consent_version": 3}
    second = knitter.post("/v1/groups", body).headers["Location"]
    problem = is_problem(reset(world.mine.steward, knitter), 403)
    assert "heeldepth account reset" in problem["detail"]
    with world.database.read() as session:
        assert session.query(PasswordReset).count() == 0
    assert knitter.get(second).status_code == 200


def test_a_steward_who_left_counts_no_longer_for_a_reset(world: Any, knitter: Any) -> None:
    second = world.member(world.mine.steward.group_id, "Wigeon", "steward")
    code = reset(second, knitter).json["code"]
    assert (
        world.mine.steward.delete(f"/members/{second.member_id}", If_Match="*").status_code == 204
    )
    body = {"code": code, "password": NEW}
    assert world.client.post("/v1/accounts/password", json=body).status_code == 404


def test_groups_that_were_left_count_for_a_reset(world: Any, knitter: Any, is_problem: Any) -> None:
    code = world.theirs.steward.make("/invitations")["code"]
    body = {"name": "Kestrel the second", "consent_version": 3}
    joined = knitter.make(f"/v1/invitations/{code}/acceptance", body)
    assert knitter.delete(f"/v1/groups/{joined['id']}/members/me").status_code == 204
    is_problem(reset(world.mine.steward, knitter), 403)


def test_a_code_is_void_once_its_person_joins_or_founds_another_group(
    world: Any, knitter: Any
) -> None:
    def uses(code: str) -> int:
        body = {"code": code, "password": NEW}
        return int(world.client.post("/v1/accounts/password", json=body).status_code)

    first = reset(world.mine.steward, knitter).json["code"]
    body = {"name": "Invented second group", "steward": "Kestrel", "consent_version": 3}
    assert knitter.post("/v1/groups", body).status_code == 201
    assert uses(first) == 404

    other = world.member(world.mine.steward.group_id, "Dunlin", "knitter")
    assert other.post("/v1/accounts", {**KNOWN, "username": "dunlin"}).status_code == 201
    second = reset(world.mine.steward, other).json["code"]
    code = world.theirs.steward.make("/invitations")["code"]
    other.make(f"/v1/invitations/{code}/acceptance", {"name": "Dunlin", "consent_version": 3})
    with world.database.read() as session:
        left = session.query(PasswordReset).filter(PasswordReset.used_at.is_(None)).count()
    assert left == 1, "only the first, which is checked when it is used"
    assert uses(second) == 404


@pytest.mark.parametrize(
    ("role", "left", "status"),
    [
        ("steward", "stays", 201),
        ("steward", "left", 403),
        ("designer", "stays", 403),
    ],
)
def test_a_steward_of_the_other_group_counts_for_a_reset_until_she_leaves_it(
    world: Any, knitter: Any, role: str, left: str, status: int
) -> None:
    places = (
        (knitter, "knitter", None),
        (world.mine.steward, role, now() if left == "left" else None),
    )
    with world.database.write.begin() as session:
        for number, (who, of_role, left_at) in enumerate(places):
            person_id = session.get_one(Member, who.member_id).person_id
            session.add(
                Member(
                    group_id=world.theirs.steward.group_id,
                    person_id=person_id,
                    name=f"Invented {number}",
                    role=of_role,
                    left_at=left_at,
                )
            )
    assert reset(world.mine.steward, knitter).status_code == status


def test_who_has_no_username_has_no_password_to_forget(world: Any, is_problem: Any) -> None:
    is_problem(reset(world.mine.steward, world.mine.knitter), 409)
