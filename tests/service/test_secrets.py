"""Tokens: shown once, kept as digests."""

from __future__ import annotations

from typing import Any

from models.actions.tokens import PREFIX, digest
from models.tables.base import Base
from models.tables.people import Token


def dump(world: Any) -> str:
    """Return every cell of every table as text."""
    with world.database.read() as session:
        return "\n".join(
            repr(tuple(row))
            for table in Base.metadata.sorted_tables
            for row in session.execute(table.select())
        )


def test_the_database_holds_no_token_only_its_digest(world: Any) -> None:
    for who in (world.mine.steward, world.mine.knitter):
        who.post("/reports", world.report(notes="invented"), Idempotency_Key="one")
        who.post("/suggestions", world.question(), Idempotency_Key="two")
    body = {"name": "Invented second group", "steward": "Ottoline", "consent_version": 3}
    world.mine.steward.post("/v1/groups", body, Idempotency_Key="three")
    everything = dump(world)
    assert "invented" in everything, "the dump must hold what was stored"
    for who in (world.mine.steward, world.mine.knitter, world.theirs.steward):
        assert who.token.startswith(PREFIX)
        assert who.token.removeprefix(PREFIX) not in everything
        assert digest(who.token) in everything


def test_the_database_holds_no_code_session_id_reset_or_password(world: Any) -> None:
    steward, knitter = world.mine.steward, world.mine.knitter
    account = {"username": "wren.one", "password": "invented password"}
    assert knitter.post("/v1/accounts", account, Idempotency_Key="one").status_code == 201
    opened = world.app.test_client().post("/v1/sessions", json=account)
    cookie = opened.headers["Set-Cookie"].split("=", 1)[1].split(";")[0]
    reset = steward.post(f"/members/{knitter.member_id}/password-reset", {}, Idempotency_Key="two")
    invited = steward.post("/invitations", {"uses": 2}, Idempotency_Key="three").json["code"]
    token = knitter.post(
        "/v1/tokens",
        {"label": "shelf", "current_password": account["password"]},
        Idempotency_Key="four",
    ).json["token"]
    joining = f"/v1/invitations/{invited}/acceptance"
    body = {"name": "Isolde", "consent_version": 3}
    joined = world.theirs.knitter.post(joining, body, Idempotency_Key="five")
    keyed = {"Idempotency-Key": "six"}
    alone = world.client.post(joining, json={**body, "name": "Bea"}, headers=keyed)
    assert (joined.status_code, alone.status_code) == (201, 201)
    everything = dump(world)
    for secret in (cookie, reset.json["code"], invited, token, alone.json["token"]):
        assert secret.startswith(PREFIX)
        assert secret.rsplit("_", 1)[1] not in everything
        assert digest(secret) in everything
    assert account["password"] not in everything
    assert opened.json["csrf_token"] not in everything
    assert "wren.one" in everything


def test_a_token_is_shown_to_its_owner_and_never_again(world: Any) -> None:
    who = world.mine.steward
    seen = [who.get(path).text for path in ("", "/feet", "/reports", "/v1/groups")]
    assert not any(PREFIX in text for text in seen)


def test_no_two_tokens_are_alike(world: Any) -> None:
    people = (*vars(world.mine).values(), *vars(world.theirs).values())
    assert len({who.token for who in people}) == 4


def test_a_label_of_a_token_fits_its_column(client: Any, world: Any) -> None:
    body = {"name": "n" * 80, "steward": "s" * 80, "consent_version": 3}
    assert client.post("/v1/groups", json=body).status_code == 201
    with world.database.read() as session:
        assert max(len(token.label) for token in session.query(Token)) == 80
