from __future__ import annotations

from alembic.script import ScriptDirectory

from migrations import revisions, runner


def test_the_newest_revision_is_the_one_that_alembic_upgrades_to() -> None:
    scripts = ScriptDirectory.from_config(runner.configuration())
    assert revisions.head() == scripts.get_current_head()
