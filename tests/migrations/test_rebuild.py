"""SQLite changes most things of a table by building it anew; others may refer to it meanwhile."""

from __future__ import annotations

import pytest
from alembic import command
from sqlalchemy.exc import IntegrityError

from models.tables.socks import Foot

WIDER_NAMES = """
with op.batch_alter_table("members") as batch:
    batch.alter_column("name", type_=sa.String(120), existing_type=sa.String(80))
"""


def test_rebuilding_a_table_that_others_refer_to_loses_no_row(
    database, database_url, plant, next_step, everything
) -> None:
    with database.write.begin() as session:
        planted = plant(session, "Invented Group")
        session.add_all(planted.report() for _ in range(20))
    before = everything(database_url)
    next_step.write(WIDER_NAMES)
    command.upgrade(next_step.configuration(database_url), "head")
    after = everything(database_url)
    assert after.pop("alembic_version") != before.pop("alembic_version")
    assert after == before


def test_references_hold_again_after_a_rebuild(database, database_url, plant, next_step) -> None:
    with database.write.begin() as session:
        planted = plant(session, "Invented Group")
    next_step.write(WIDER_NAMES)
    command.upgrade(next_step.configuration(database_url), "head")
    stranger = Foot(
        group_id=planted.group_id,
        member_id="nobody",
        foot_length_mm=250.0,
        foot_circumference_mm=230.0,
    )
    with pytest.raises(IntegrityError), database.write.begin() as session:
        session.add(stranger)
