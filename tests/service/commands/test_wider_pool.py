"""The wider pool at the command line. All groups are invented."""

from __future__ import annotations

import json

import pytest

from models.domain.reports import USUAL_COLUMNS

PEOPLE = 52


@pytest.fixture
def known(shell, group) -> str:
    """Return a group of 52 people with an active calibration."""
    rows = [
        f"Invented {n},{236 + n},{221 + n % 19},{299 + n % 31}.5,{211 + n % 13},{n % 3},"
        f"{28 + n % 5},{40 + n % 3},64,3,{n % 6},4,3,{n % 5 - 2}"
        for n in range(PEOPLE)
    ]
    file = shell.file("\n".join([",".join(USUAL_COLUMNS), *rows]))
    assert shell.run("import", file, "--group", group).exit_code == 0
    assert f"of {PEOPLE} reporters and answers" in shell.run("calibrate", "--group", group).stdout
    return group


@pytest.fixture
def other(shell) -> str:
    made = shell.run("group", "create", "Invented crane group")
    return made.stdout.split()[1]


def pool(shell, word, group, *more):
    return shell.run("pool", word, *more, "--group", group)


def test_what_one_group_shares_another_begins_with(shell, known, other) -> None:
    assert "shares nothing" in pool(shell, "show", known).stdout
    assert pool(shell, "share", known).exit_code == 0
    assert "shares the summary of calibration 1" in pool(shell, "show", known).stdout
    assert "50 people or more, 52 reports, here" in pool(shell, "show", other).stdout
    assert pool(shell, "use", other).exit_code == 0
    assert "begin with the wider pool" in pool(shell, "show", other).stdout
    assert pool(shell, "leave", other).exit_code == 0
    assert "begin with geometry alone" in pool(shell, "show", other).stdout
    assert pool(shell, "revoke", known).exit_code == 0
    assert "0 other groups" in pool(shell, "show", other).stdout


def test_a_file_of_summaries_goes_out_and_in(shell, known, other, tmp_path) -> None:
    pool(shell, "share", known)
    file = tmp_path / "summaries.json"
    assert "Wrote 1 of" in pool(shell, "export", known, "--out", file, "--own").stdout
    pool(shell, "revoke", known)
    assert "Took in 1 of" in pool(shell, "import", other, file).stdout
    told = pool(shell, "show", other).stdout
    assert "taken in as " in told
    taken = told.partition("taken in as ")[2].split()[0]
    again = tmp_path / "again.json"
    pool(shell, "export", other, "--out", again)
    assert json.loads(again.read_text()) == json.loads(file.read_text())
    assert pool(shell, "drop", other, taken).exit_code == 0
    assert "0 other groups" in pool(shell, "show", other).stdout
    refused = pool(shell, "import", known, file)
    assert (refused.exit_code, refused.stdout) == (1, "")
    assert "0.origin" in refused.stderr


@pytest.mark.parametrize("content", ["", "{}", "[]", "[1]", "[{}", "[NaN]", "x" * 1_000_001])
def test_what_is_no_list_of_summaries_is_refused(shell, other, content) -> None:
    done = pool(shell, "import", other, shell.file(content, "wrong.json"))
    assert (done.exit_code, done.stdout) == (1, "")
    assert "wrong.json" in done.stderr


def test_of_a_file_with_one_wrong_summary_nothing_is_taken_in(
    shell, known, other, tmp_path
) -> None:
    pool(shell, "share", known)
    file = tmp_path / "summaries.json"
    pool(shell, "export", known, "--out", file, "--own")
    pool(shell, "revoke", known)
    [sound] = json.loads(file.read_text())
    file.write_text(json.dumps([sound, {**sound, "origin": "0" * 32, "people": 7}]))
    done = pool(shell, "import", other, file)
    assert done.exit_code == 1
    assert "1.people is 7" in done.stderr
    assert "0 other groups" in pool(shell, "show", other).stdout
