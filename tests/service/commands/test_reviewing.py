"""Reviews and outcomes at the command line. All names are invented."""

from __future__ import annotations

import re

import pytest

from models.domain.reports import USUAL_COLUMNS

HEADINGS = ",".join(USUAL_COLUMNS)
COPIED = [f"{name},251.3,231.7,313.9,219.2,1,30,42,64,3,4,4,3,0" for name in ("Alder", "Birch")]


@pytest.fixture
def held(shell, group) -> str:
    """Return the id of a held report of the group."""
    shell.run("import", shell.file("\n".join([HEADINGS, *COPIED])), "--group", group)
    done = shell.run("calibrate", "--group", group)
    assert "Held back 1 doubtful report; see heeldepth review.\n" in done.stdout
    assert "rests on 1 reports of 1 reporters" in done.stdout
    return re.match("[0-9a-f]{32}", shell.run("review", "--group", group).stdout)[0]


def test_the_queue_is_listed_with_reasons(shell, group, held) -> None:
    told = shell.run("review", "--group", group).stdout
    assert f"{held}  Birch: Another report says exactly the same.\n" in told
    assert "heel_diagonal_mm 313.9" in told
    assert told.endswith("1 held report.\n")


@pytest.mark.parametrize(("option", "reports"), [("--accept", 2), ("--reject", 1)])
def test_what_is_decided_is_done(shell, group, held, option: str, reports: int) -> None:
    done = shell.run("review", "--group", group, option, held, "--note", "an invented note")
    assert done.exit_code == 0
    assert shell.run("review", "--group", group).stdout == "0 held reports.\n"
    assert f"rests on {reports} reports" in shell.run("calibrate", "--group", group).stdout


def test_all_that_is_named_is_decided_or_nothing(shell, group, held) -> None:
    done = shell.run("review", "--group", group, "--accept", held, "--reject", "0" * 32)
    assert (done.exit_code, done.stdout) == (1, "")
    assert "1 held report.\n" in shell.run("review", "--group", group).stdout


def test_deciding_twice_is_refused_with_what_it_is_now(shell, group, held) -> None:
    shell.run("review", "--group", group, "--accept", held)
    done = shell.run("review", "--group", group, "--reject", held)
    assert (done.exit_code, done.stdout) == (1, "")
    assert "the report is accepted, not held" in done.stderr


def test_a_note_alone_is_wrong_usage(shell, group) -> None:
    assert shell.run("review", "--group", group, "--note", "invented").exit_code == 2


def test_outcomes_say_whether_a_calibration_was_right(shell, group) -> None:
    assert "No calibration is active" in shell.run("outcomes", "--group", group).stdout
    shell.run("calibrate", "--group", group)
    few = shell.run("outcomes", "--group", group).stdout
    assert few.startswith("Since calibration 1: 0 reports of 0 reporters. Fewer than 10 people")
    lines = [f"Invented {n},{240 + n},230,,,1,30,42,64,3,4,4,3,2" for n in range(60)]
    shell.run("import", shell.file("\n".join([HEADINGS, *lines])), "--group", group)
    told = shell.run("outcomes", "--group", group).stdout
    assert told.startswith("Since calibration 1: 60 reports of 60 reporters. Heels scored +")
    assert re.search(r"\n +all, chance 0\.0 to .* just right 0% of ", told)


def test_calibrating_says_that_the_one_before_had_drifted(shell, group) -> None:
    first = [
        f"First {n},{235 + n % 30},{225 + n % 7},,,1,30,42,64,3,{n % 5},4,3,0" for n in range(200)
    ]
    shell.run("import", shell.file("\n".join([HEADINGS, *first])), "--group", group)
    assert "drifted" not in shell.run("calibrate", "--group", group).stdout
    later = [
        f"Later {n},{235 + n % 31},{226 + n % 7},,,1,30,42,64,3,{n % 5},4,3,2" for n in range(60)
    ]
    shell.run("import", shell.file("\n".join([HEADINGS, *later])), "--group", group)
    assert "Calibration 1 had drifted." in shell.run("calibrate", "--group", group).stdout
