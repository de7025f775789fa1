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


def test_a_database_at_another_migration_is_not_ready(world: Any) -> None:
    with world.database.write.begin() as session:
        session.execute(text("UPDATE alembic_version SET version_num = 'older'"))
    answer = world.client.get("/readyz")
    assert answer.status_code == 503
    assert "older" in answer.json["migrations"]


def test_a_database_that_cannot_be_reached_is_not_ready(tmp_path: Any) -> None:
    app = create_app(Settings(f"sqlite:///{tmp_path}/nowhere/heeldepth.db"))
    answer = app.test_client().get("/readyz")
    assert answer.status_code == 503
    assert answer.json["database"] == "OperationalError"
    assert str(tmp_path) not in answer.text
