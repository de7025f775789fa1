"""Reading from a replica: a database of its own here, so that each shows what it holds."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import pytest
from sqlalchemy import NullPool, create_engine, make_url, text

from service import replica
from service.app import create_app

pytestmark = pytest.mark.only_on("postgresql")


@dataclass(frozen=True)
class Pair:
    """A steward who asks a service that has a replica, and where both databases are."""

    steward: Any
    primary: str
    copy: str

    def run(self, url: str, statement: str) -> None:
        """Run a statement in one of the databases, by itself."""
        engine = create_engine(url, isolation_level="AUTOCOMMIT", poolclass=NullPool)
        with engine.connect() as connection:
            connection.execute(text(statement))

    def drop_the_copy(self) -> None:
        """Drop the replica, whoever reads from it."""
        self.run(self.primary, f"DROP DATABASE {make_url(self.copy).database} WITH (FORCE)")


@pytest.fixture
def pair(world, copied) -> Iterator[Pair]:
    """Yield a pair whose replica stopped short of what comes from now on."""
    settings = world.app.config["HEELDEPTH"]
    world.database.close()
    copy = copied(settings.database_url)
    app = create_app(replace(settings, replica_url=copy))
    yield Pair(replace(world.mine.steward, client=app.test_client()), settings.database_url, copy)
    app.extensions["heeldepth"].close()
    app.extensions["heeldepth_replica"].close()


def test_what_only_reads_is_answered_from_the_replica(pair, world) -> None:
    made = pair.steward.make("/reports", world.report())
    assert pair.steward.items("/reports") == []
    assert [one["id"] for one in world.mine.steward.items("/reports")] == [made["id"]]


def test_what_the_replica_has_not_got_yet_is_found_on_the_primary(pair, world, is_problem) -> None:
    made = pair.steward.make("/reports", world.report())
    assert pair.steward.get(f"/reports/{made['id']}").json["id"] == made["id"]
    is_problem(pair.steward.get(f"/reports/{'0' * 32}"), 404)


def test_what_changes_goes_to_the_primary_with_what_it_has_read(pair, world) -> None:
    made = pair.steward.make("/reports", world.report())
    tag = pair.steward.get(f"/reports/{made['id']}").headers["ETag"]
    answer = pair.steward.patch(f"/reports/{made['id']}", {"fit_score": 1}, If_Match=tag)
    assert answer.json["fit_score"] == 1


def test_a_token_revoked_on_the_primary_is_refused_at_the_next_request(pair, is_problem) -> None:
    assert pair.steward.get("/reports").status_code == 200
    pair.run(pair.primary, "UPDATE tokens SET revoked_at = now()")
    is_problem(pair.steward.get("/reports"), 401)


def test_a_replica_that_does_not_answer_is_left_alone_for_a_while(
    pair, world, caplog, monkeypatch
) -> None:
    made = pair.steward.make("/reports", world.report())
    assert pair.steward.items("/reports") == []
    pair.drop_the_copy()
    for _ in range(2):
        assert [one["id"] for one in pair.steward.items("/reports")] == [made["id"]]
    assert caplog.text.count("the replica did not answer") == 1
    assert make_url(pair.copy).database not in caplog.text
    monkeypatch.setattr(replica.time, "monotonic", lambda: 1e12)
    assert [one["id"] for one in pair.steward.items("/reports")] == [made["id"]]
    assert caplog.text.count("the replica did not answer") == 2


@pytest.mark.parametrize("lacking", ["DROP COLUMN notes", "RENAME TO reports_of_before"])
def test_a_replica_that_lags_behind_a_migration_is_left_alone_for_a_while(
    pair, world, caplog, lacking: str
) -> None:
    """What the newer version reads is not there yet, be it a column or a table."""
    made = pair.steward.make("/reports", world.report())
    pair.run(pair.copy, f"ALTER TABLE reports {lacking}")
    for _ in range(2):
        answer = pair.steward.get("/reports")
        assert answer.status_code == 200, answer.text
        assert [one["id"] for one in answer.json["items"]] == [made["id"]]
    assert pair.steward.get(f"/reports/{made['id']}").json["id"] == made["id"]
    assert caplog.text.count("the replica did not answer") == 1
