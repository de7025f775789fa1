from __future__ import annotations

import pytest
from alembic.util import CommandError
from sqlalchemy import create_engine, inspect, text

from migrations import revisions, runner


def test_an_empty_database_has_no_revision_and_reaches_head(empty_database_url: str) -> None:
    assert revisions.current(empty_database_url) is None
    runner.upgrade(empty_database_url)
    assert revisions.current(empty_database_url) == revisions.head()


def test_upgrading_again_changes_nothing(database_url, database, plant, everything) -> None:
    with database.write.begin() as session:
        plant(session, "Invented Group")
    before = everything(database_url)
    runner.upgrade(database_url)
    assert everything(database_url) == before


def test_down_leaves_nothing_but_the_version_table_and_up_works_again(database_url: str) -> None:
    runner.downgrade(database_url, "base")
    engine = create_engine(database_url)
    found = inspect(engine)
    left = {*found.get_table_names(), *found.get_view_names()}
    if engine.dialect.name == "postgresql":
        left |= {*found.get_sequence_names(), *(enum["name"] for enum in found.get_enums())}
    engine.dispose()
    assert left == {"alembic_version"}
    assert revisions.current(database_url) is None
    runner.upgrade(database_url)
    assert revisions.current(database_url) == revisions.head()


def test_a_database_of_a_newer_version_is_refused_and_kept(database_url, everything) -> None:
    engine = create_engine(database_url)
    with engine.begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    engine.dispose()
    before = everything(database_url)
    with pytest.raises(CommandError, match="9999"):
        runner.upgrade(database_url)
    assert everything(database_url) == before
