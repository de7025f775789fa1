"""Taking out and erasing at the command line. All names are invented."""

from __future__ import annotations

import json
import re
import zipfile

import pytest
from sqlalchemy import func, select

from models.tables.accounts import Account
from models.tables.engine import Database
from models.tables.people import Member
from models.tables.socks import Report


def counts(shell) -> tuple[int, int]:
    """Return how many members and reports there are."""
    database = Database(shell.settings["HEELDEPTH_DATABASE_URL"])
    with database.read() as session:
        found = [session.scalar(select(func.count()).select_from(t)) for t in (Member, Report)]
    database.close()
    return found[0], found[1]


def test_everything_about_a_reporter_is_written(shell, group) -> None:
    shell.run("import", shell.reports(2), "--group", group)
    for name in ("about.json", "about.zip"):
        file = shell.folder / name
        done = shell.run("member", "export", "Alder", "--group", group, "--out", file)
        assert done.exit_code == 0, done.output
    about = json.loads((shell.folder / "about.json").read_text())
    assert [len(about[kind]) for kind in ("members", "feet", "reports")] == [1, 1, 2]
    with zipfile.ZipFile(shell.folder / "about.zip") as archive:
        assert archive.read("reports.csv").count(b"\n") == 3
    nobody = shell.run("member", "export", "Nobody", "--group", group, "--out", file)
    assert nobody.exit_code == 1
    assert "no member or reporter 'Nobody'" in nobody.output


def test_a_reporter_is_erased_after_being_asked(shell, group) -> None:
    shell.run("import", shell.reports(2), "--group", group)
    shell.run("calibrate", "--group", group)
    asked = shell.run("member", "erase", "Alder", "--group", group)
    assert (asked.exit_code, counts(shell)) == (1, (2, 2))
    done = shell.run("member", "erase", "Alder", "--group", group, "--yes")
    assert done.stdout.splitlines() == [
        "Erased. feet: 1, reports: 2, suggestions: 0, calibrations: 1."
    ]
    assert counts(shell) == (1, 0)


def test_a_restored_backup_is_erased_again_from_the_list(shell, group, tmp_path) -> None:
    shell.run("import", shell.reports(2), "--group", group)
    backup, erased = tmp_path / "before.heeldepth", tmp_path / "erased.txt"
    assert shell.run("backup", backup).exit_code == 0
    shell.run("member", "erase", "Alder", "--group", group, "--yes")
    assert "Listed 1 erasure" in shell.run("erasures", "list", "--out", erased).stdout
    assert re.fullmatch(r"[0-9a-f]{64}\n", erased.read_text()), "a digest and nothing else"
    restored = {"HEELDEPTH_DATABASE_URL": f"sqlite:///{tmp_path / 'restored.db'}"}
    done = shell.run("restore", backup, **restored)
    assert done.exit_code == 0, done.output
    assert "Alder" in shell.run("member", "list", "--group", group, **restored).stdout
    done = shell.run("erasures", "replay", erased, **restored)
    assert done.stdout == "Erased 1 again, of 1 erasure on the list.\n"
    assert "Alder" not in shell.run("member", "list", "--group", group, **restored).stdout
    assert shell.run("erasures", "replay", erased, **restored).stdout.startswith("Erased 0 again")
    assert shell.run("erasures", "list", "--out", erased, **restored).exit_code == 0
    assert len(erased.read_text().splitlines()) == 1


def test_a_list_of_erasures_never_loses_what_only_it_knows(shell, group, tmp_path) -> None:
    erased, gone = tmp_path / "erased.txt", f"{'0' * 64}\n"
    erased.write_text(gone)
    shell.run("import", shell.reports(2), "--group", group)
    shell.run("member", "erase", "Alder", "--group", group, "--yes")
    done = shell.run("erasures", "list", "--out", erased)
    assert done.stdout == f"Listed 2 erasures in {erased}; 1 erasure only the list knew.\n"
    assert re.fullmatch(gone + r"[0-9a-f]{64}\n", erased.read_text())


@pytest.mark.parametrize("content", [b"reporter,fit_score\n", b"\xff\xfe\x00", b"0" * 63 + b"\n"])
def test_what_is_no_list_of_erasures_is_refused_and_left(shell, tmp_path, content: bytes) -> None:
    file = tmp_path / "other.txt"
    file.write_bytes(content)
    for arguments in (("replay", file), ("list", "--out", file)):
        done = shell.run("erasures", *arguments)
        assert (done.exit_code, done.stdout) == (1, "")
        assert f"{file} is no list of erasures: line 1 must be 64 characters" in done.stderr
    assert file.read_bytes() == content


def test_an_account_is_erased_by_its_username(shell, group) -> None:
    wrong = shell.run("account", "erase", "nobody.here", "--yes")
    assert wrong.exit_code == 1
    assert "no account 'nobody.here'" in wrong.output
    database = Database(shell.settings["HEELDEPTH_DATABASE_URL"])
    with database.write.begin() as session:
        steward = session.scalars(select(Member)).one()
        known = {"person_id": steward.person_id, "password_hash": "invented"}
        session.add(Account(username="wren.one", **known))
    database.close()
    assert shell.run("account", "erase", "Wren.One", "--yes").exit_code == 0
    assert counts(shell) == (0, 0)
