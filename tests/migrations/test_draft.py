from __future__ import annotations

from pathlib import Path

from migrations import revisions
from migrations.draft import draft


def test_a_draft_is_the_next_number_and_finds_nothing_to_do(tmp_path: Path) -> None:
    file = draft("count the washes", tmp_path)
    number = int(revisions.head()) + 1
    assert file.name == f"r{number:04d}_count_the_washes.py"
    source = file.read_text()
    assert '"""count the washes."""' in source
    assert f"down_revision = '{revisions.head()}'" in source
    assert source.count("pass") == 2
