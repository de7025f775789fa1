from __future__ import annotations

import time

import pytest

from migrations import revisions

UPGRADES = 2
COUNT_WASHES = 'op.create_table("washes", sa.Column("id", sa.Integer(), primary_key=True))'


def test_upgrades_at_once_from_empty_all_succeed_and_one_does_the_work(
    empty_database_url, next_step, everything
) -> None:
    next_step.write(COUNT_WASHES)
    processes = [next_step.start(empty_database_url) for _ in range(UPGRADES)]
    next_step.release(*processes)
    complaints = [process.communicate()[1] for process in processes]
    assert [process.returncode for process in processes] == [0] * UPGRADES, complaints
    assert everything(empty_database_url)["alembic_version"] == [{"version_num": "later"}]


@pytest.mark.only_on("sqlite")
def test_an_upgrade_waits_for_a_writer(database, database_url, next_step) -> None:
    next_step.write(COUNT_WASHES)
    process = next_step.start(database_url)
    with database.write.begin() as session:
        session.connection()
        next_step.release(process)
        time.sleep(0.3)
        assert process.poll() is None
    assert process.communicate()[1] == ""
    assert revisions.current(database_url) == "later"
