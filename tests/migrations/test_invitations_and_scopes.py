"""What was stored before invitations, scopes and accounts came goes on as it was."""

from __future__ import annotations

import pytest
from alembic import command
from sqlalchemy import create_engine, text

from migrations import runner

BEFORE = (
    "INSERT INTO people (id, created_at) VALUES ('p', CURRENT_TIMESTAMP)",
    "INSERT INTO groups (id, name, version, created_at) "
    "VALUES ('g', 'Invented', 1, CURRENT_TIMESTAMP)",
    "INSERT INTO members (id, group_id, person_id, name, role, joined_at) "
    "VALUES ('m', 'g', 'p', 'Alder', 'steward', CURRENT_TIMESTAMP)",
    "INSERT INTO tokens (id, person_id, digest, label, created_at) "
    "VALUES ('t', 'p', 'd', 'old', CURRENT_TIMESTAMP)",
    "INSERT INTO calibrations "
    "(id, group_id, number, reports, reporters, fingerprint, artefact, created_at) VALUES "
    "('c0', 'g', 1, 0, 0, 'f', '{}', CURRENT_TIMESTAMP), "
    "('c9', 'g', 2, 90, 9, 'f', '{}', CURRENT_TIMESTAMP), "
    "('c10', 'g', 3, 90, 10, 'f', '{}', CURRENT_TIMESTAMP), "
    "('c11', 'g', 4, 90, 11, 'f', '{}', CURRENT_TIMESTAMP)",
)


@pytest.fixture
def upgraded(empty_database_url: str) -> str:
    """Return the URL of a database that was at 0002 with rows, and is at 0003 now."""
    configuration = runner.configuration(empty_database_url)
    command.upgrade(configuration, "0002")
    engine = create_engine(empty_database_url)
    with engine.begin() as connection:
        for statement in BEFORE:
            connection.execute(text(statement))
    engine.dispose()
    command.upgrade(configuration, "0003")
    return empty_database_url


def test_tokens_stay_good_for_everything_members_stay_and_old_figures_stay_shown(
    upgraded: str, everything
) -> None:
    found = everything(upgraded)
    [token], [member] = found["tokens"], found["members"]
    assert (token["scopes"], token["last_used_at"]) == ("read report design steward", None)
    assert (member["left_at"], member["consent_version"], member["version"]) == (None, None, 1)
    shown = {row["reporters"]: bool(row["published"]) for row in found["calibrations"]}
    assert shown == {0: True, 9: False, 10: True, 11: True}


def test_going_back_keeps_what_was_there_before(upgraded: str, everything) -> None:
    runner.downgrade(upgraded, "0002")
    found = everything(upgraded)
    assert [row["digest"] for row in found["tokens"]] == ["d"]
    assert [row["name"] for row in found["members"]] == ["Alder"]
    assert "invitations" not in found
