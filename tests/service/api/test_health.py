"""Alive and ready."""

from __future__ import annotations

from typing import Any

from sqlalchemy import text

from migrations.revisions import head
from service.app import create_app
from service.config import Settings


def test_the_process_answers_without_a_database(tmp_path: Any) -> None:
    app = create_app(Settings(f"sqlite:///{tmp_path}/nowhere/heeldepth.db"))
    assert app.test_client().get("/healthz").json == {"status": "alive"}


def test_an_upgraded_database_is_ready(client: Any) -> None:
    answer = client.get("/readyz")
    assert answer.status_code == 200
    assert answer.json == {
        "status": "ready",
        "database": "answers",
        "migrations": f"at {head()}",
    }


def test_a_database_that_was_never_upgraded_is_not_ready(empty_database_url: str) -> None:
    app = create_app(Settings(empty_database_url))
    answer = app.test_client().get("/readyz")
    app.extensions["heeldepth"].close()
    assert answer.status_code == 503
    assert answer.json["status"] == "not ready"
    assert "heeldepth database upgrade" in answer.json["migrations"]


def at(world: Any, revision: str) -> Any:
    """Return what a database at a revision is answered as."""
    with world.database.write.begin() as session:
        session.execute(text("UPDATE alembic_version SET version_num = :at"), {"at": revision})
    return world.client.get("/readyz")


def test_a_database_at_an_older_migration_is_not_ready(world: Any) -> None:
    answer = at(world, f"{int(head()) - 1:04d}")
    assert answer.status_code == 503
    wanted = f"at {int(head()) - 1:04d}, needs {head()}: heeldepth database upgrade"
    assert answer.json["migrations"] == wanted


def test_a_process_of_the_version_before_stays_ready_after_an_upgrade(world: Any) -> None:
    answer = at(world, f"{int(head()) + 1:04d}")
    assert (answer.status_code, answer.json["status"]) == (200, "ready")
    wanted = f"at {int(head()) + 1:04d}, newer than this process, which needs {head()}"
    assert answer.json["migrations"] == wanted


def test_a_migration_that_is_no_number_is_not_ready(world: Any) -> None:
    assert at(world, "unknown").status_code == 503


def test_a_database_that_cannot_be_reached_is_not_ready(tmp_path: Any) -> None:
    app = create_app(Settings(f"sqlite:///{tmp_path}/nowhere/heeldepth.db"))
    answer = app.test_client().get("/readyz")
    assert answer.status_code == 503
    assert answer.json["database"] == "OperationalError"
    assert str(tmp_path) not in answer.text
