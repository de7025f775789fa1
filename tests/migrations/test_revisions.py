from __future__ import annotations

import pytest
from alembic.script import ScriptDirectory

from migrations import revisions, runner


def test_the_newest_revision_is_the_one_that_alembic_upgrades_to() -> None:
    scripts = ScriptDirectory.from_config(runner.configuration())
    assert revisions.head() == scripts.get_current_head()


@pytest.mark.parametrize(
    ("revision", "lacks_steps_and_is_newer"),
    [
        (None, (True, False)),
        ("unknown", (True, False)),
        ("0001", (True, False)),
        (revisions.head(), (False, False)),
        (f"{int(revisions.head()) + 1:04d}", (False, True)),
        ("10000", (False, True)),
    ],
)
def test_revisions_are_compared_as_numbers(revision, lacks_steps_and_is_newer) -> None:
    found = (revisions.lacks_steps(revision), revisions.is_newer(revision))
    assert found == lacks_steps_and_is_newer
