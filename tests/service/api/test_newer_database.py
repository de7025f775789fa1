"""What a process of the version before cannot do on a newer database, it refuses."""

from __future__ import annotations

from typing import Any

from sqlalchemy import text


def test_nobody_is_erased_whom_a_table_refers_to_that_is_not_known(world: Any, is_problem) -> None:
    kept = world.mine.knitter
    with world.database.write.begin() as session:
        session.execute(text("CREATE TABLE washes (member_id VARCHAR(32) REFERENCES members (id))"))
        session.execute(text("INSERT INTO washes VALUES (:one)"), {"one": kept.member_id})
    made = kept.make("/reports", world.report())
    is_problem(kept.delete("/v1/me"), 409)
    assert [one["id"] for one in kept.items("/reports")] == [made["id"]]
