"""Members, invitations and forgotten passwords at the command line. All names are invented."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
from sqlalchemy import select

from models.domain import codes
from models.tables.accounts import Account, PasswordReset
from models.tables.engine import Database
from models.tables.invitations import Invitation
from models.tables.people import Member
from service.app import create_app
from service.config import Settings


@pytest.fixture
def client(shell) -> Iterator[Any]:
    app = create_app(Settings(shell.settings["HEELDEPTH_DATABASE_URL"]))
    yield app.test_client()
    app.extensions["heeldepth"].close()


def join(shell, client, group: str, name: str, *options: str) -> str:
    """Let somebody join by an invitation from the command line, and return the token."""
    done = shell.run("invite", "--group", group, *options)
    code = re.fullmatch(r"code (\S+)\n", done.stdout)[1]
    body = {"name": name, "consent_version": 3}
    answer = client.post(f"/v1/invitations/{code}/acceptance", json=body)
    assert answer.status_code == 201, answer.text
    return str(answer.json["token"])


def members(shell, group: str) -> list[list[str]]:
    lines = shell.run("member", "list", "--group", group).stdout.splitlines()
    return [line.split("\t")[:3] for line in lines]


def test_an_invitation_is_printed_once_and_keeps_only_a_digest(shell, group) -> None:
    done = shell.run("invite", "--group", group, "--role", "designer", "--uses", "3", "--days", "2")
    code = re.fullmatch(r"code (\S+)\n", done.stdout)[1]
    assert codes.well_formed(codes.INVITATION, code)
    assert "shown this once" in done.stderr
    database = Database(shell.settings["HEELDEPTH_DATABASE_URL"])
    with database.read() as session:
        row = session.scalars(select(Invitation)).one()
    database.close()
    assert (row.digest, row.role, row.uses_left) == (codes.digest(code), "designer", 3)
    lasts = row.expires_at - row.created_at
    assert abs(lasts - timedelta(days=2)) < timedelta(minutes=1)


def test_members_are_listed_with_role_and_state(shell, client, group) -> None:
    shell.run("import", shell.reports(1), "--group", group)
    join(shell, client, group, "Birch", "--role", "designer")
    assert members(shell, group) == [
        ["steward", "steward", "joined"],
        ["Alder", "knitter", "reporter"],
        ["Birch", "designer", "joined"],
    ]


def test_a_reporter_of_a_file_gets_the_place_that_is_named(shell, client, group) -> None:
    shell.run("import", shell.reports(1), "--group", group)
    join(shell, client, group, "Alder", "--reporter", "Alder")
    assert members(shell, group)[1] == ["Alder", "knitter", "joined"]


def test_a_role_is_changed_and_a_member_removed(shell, client, group) -> None:
    join(shell, client, group, "Birch")
    done = shell.run("member", "role", "Birch", "steward", "--group", group)
    assert done.stdout == "Birch is a steward now.\n"
    done = shell.run("member", "remove", "steward", "--group", group)
    assert done.stdout == "steward is no member any more.\n"
    assert members(shell, group) == [["steward", "steward", "left"], ["Birch", "steward", "joined"]]


@pytest.mark.only_on("sqlite")
@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("remove", "steward"), "make somebody else steward first"),
        (("role", "steward", "knitter"), "make somebody else steward first"),
        (("role", "Nobody", "knitter"), "no such member"),
        (("remove", "Alder"), "nobody has joined as this reporter"),
    ],
)
def test_what_cannot_be_done_is_said_in_one_line(shell, group, arguments, said: str) -> None:
    shell.run("import", shell.reports(1), "--group", group)
    before = members(shell, group)
    done = shell.run("member", *arguments, "--group", group)
    assert (done.exit_code, done.stdout) == (1, "")
    assert said in done.stderr
    assert members(shell, group) == before


def test_the_operator_issues_a_code_for_whoever_forgot_the_password(shell, client, group) -> None:
    headers = {"Authorization": f"Bearer {join(shell, client, group, 'Birch')}"}
    account = {"username": "wren.one", "password": "invented password"}
    assert client.post("/v1/accounts", json=account, headers=headers).status_code == 201
    code = re.fullmatch(r"code (\S+)\n", shell.run("account", "reset", "wren.one").stdout)[1]
    new = {**account, "password": "another invented password"}
    body = {"code": code, "password": new["password"]}
    assert client.post("/v1/accounts/password", json=body).status_code == 204
    assert client.post("/v1/sessions", json=account).status_code == 401
    assert client.post("/v1/sessions", json=new).status_code == 201
    database = Database(shell.settings["HEELDEPTH_DATABASE_URL"])
    with database.read() as session:
        assert session.scalars(select(PasswordReset)).one().issuer_id is None
        assert session.scalars(select(Account)).one().reset_at is not None
        assert session.scalars(select(Member).where(Member.name == "Birch")).one().person_id
    database.close()


@pytest.mark.only_on("sqlite")
def test_a_username_that_nobody_has_is_named(shell) -> None:
    done = shell.run("account", "reset", "nobody.here")
    assert (done.exit_code, done.stdout) == (1, "")
    assert "nobody has the username 'nobody.here'" in done.stderr
