"""Files of invented reports and questions at the command line."""

from __future__ import annotations

import csv
import json
import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from models.actions import import_reports
from models.actions.csv_chunks import Chunk
from models.domain.reports import OPTIONAL_COLUMNS, USUAL_COLUMNS
from models.tables.people import Group


def reports_in(shell, group: str) -> int:
    """Return how many reports a group exports."""
    out = shell.folder / "count.csv"
    assert shell.run("export", "--group", group, "--out", out).exit_code == 0
    return len(out.read_text().splitlines()) - 1


def test_a_file_of_reports_is_imported(shell, group) -> None:
    done = shell.run("import", shell.reports(3), "--group", group)
    assert (done.exit_code, done.stdout) == (0, "Imported 3 reports.\n")
    assert reports_in(shell, group) == 3


def test_what_is_known_already_is_said_and_left_as_it_is(shell, group) -> None:
    file = shell.reports(1)
    assert shell.run("import", file, "--group", group).stdout == "Imported 1 report.\n"
    again = shell.run("import", file, "--group", group, "--keep-good")
    assert again.exit_code == 0
    assert again.stdout == "Imported 0 reports; 1 report known already.\n"
    grown = shell.run("import", shell.reports(3), "--group", group)
    assert grown.stdout == "Imported 2 reports; 1 report known already.\n"
    assert reports_in(shell, group) == 3


def test_others_write_while_a_file_is_read(shell, group, database, monkeypatch) -> None:
    checked, written = import_reports.checked, []

    def written_in_between(path: Path) -> Iterator[Chunk]:
        for chunk in checked(path):
            with database.jot.begin() as session:  # which waits for nobody
                session.add(Group(name="Another invented group"))
            written.append(True)
            yield chunk

    monkeypatch.setattr(import_reports, "checked", written_in_between)
    done = shell.run("import", shell.reports(3), "--group", group)
    assert (done.exit_code, done.stdout) == (0, "Imported 3 reports.\n")
    assert written == [True]


def test_wrong_rows_are_refused_by_row_and_column_on_standard_error(shell, group) -> None:
    done = shell.run("import", shell.reports(2, wrong=1), "--group", group)
    assert (done.exit_code, done.stdout) == (1, "")
    assert "row 4: fit_score is 9: it must be a whole number from -2 to 2\n" in done.stderr
    assert "1 row wrong; nothing was done." in done.stderr
    assert reports_in(shell, group) == 0


def test_good_rows_can_be_kept_and_the_exit_code_tells(shell, group) -> None:
    done = shell.run("import", shell.reports(2, wrong=2), "--group", group, "--keep-good")
    assert (done.exit_code, done.stdout) == (3, "Imported 2 reports.\n")
    assert "row 5: fit_score is 9" in done.stderr
    assert "Left out 2 rows." in done.stderr
    assert reports_in(shell, group) == 2


@pytest.mark.only_on("sqlite")
def test_no_more_than_twenty_faults_are_shown(shell, group) -> None:
    done = shell.run("import", shell.reports(0, wrong=50), "--group", group)
    assert done.stderr.count("fit_score is 9") == 20
    assert "... and 30 more\n" in done.stderr


@pytest.mark.only_on("sqlite")
@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("", "it is empty; the first row must be headings"),
        ("colour\nred\n", "heading is 'colour'"),
        (",".join(USUAL_COLUMNS), "it has headings but no rows"),
    ],
)
def test_files_that_are_no_tables_are_refused(shell, group, content: str, said: str) -> None:
    done = shell.run("import", shell.file(content), "--group", group)
    assert done.exit_code == 1
    assert said in done.stderr
    assert "Traceback" not in done.output


def test_an_export_has_every_column_and_can_be_imported(shell, group) -> None:
    shell.run("import", shell.reports(4), "--group", group)
    out = shell.folder / "out.csv"
    done = shell.run("export", "--group", group, "--out", out)
    assert done.stdout == f"Exported 4 reports to {out}.\n"
    assert out.read_text().splitlines()[0] == ",".join((*USUAL_COLUMNS, *OPTIONAL_COLUMNS))
    shell.run("group", "create", "Another invented group")
    assert shell.run("import", out, "--group", "Another invented group").exit_code == 0
    assert reports_in(shell, "Another invented group") == 4


@pytest.mark.parametrize("ending", ["csv", "xlsx"])
def test_a_template_is_written_and_a_dry_run_changes_nothing(shell, group, ending: str) -> None:
    out = shell.folder / f"template.{ending}"
    assert shell.run("template", "--out", out).stdout == f"Wrote a template to {out}.\n"
    dry = shell.run("import", out, "--group", group, "--dry-run")
    assert (dry.exit_code, dry.stdout) == (0, "Would import 1 report.\n")
    assert "row 2: reporter is 'Invented example'" in dry.stderr
    assert reports_in(shell, group) == 0
    assert shell.run("import", out, "--group", group).stdout == "Imported 1 report.\n"
    assert reports_in(shell, group) == 1


@pytest.mark.parametrize("ending", ["csv", "xlsx", "CSV"])
def test_an_export_by_its_ending_goes_round_to_the_byte(shell, group, ending: str) -> None:
    shell.run("import", shell.reports(4), "--group", group)
    shell.run("group", "create", "Another invented group")
    out, again = (shell.folder / f"{name}.{ending}" for name in ("out", "again"))
    shell.run("export", "--group", group, "--out", out)
    assert shell.run("import", out, "--group", "Another invented group").exit_code == 0
    shell.run("export", "--group", "Another invented group", "--out", again)
    assert again.read_bytes() == out.read_bytes()
    assert out.read_bytes().startswith(b"PK" if ending == "xlsx" else b"reporter,")


@pytest.mark.only_on("sqlite")
def test_lines_of_json_are_written_by_their_ending(shell, group) -> None:
    shell.run("import", shell.reports(2), "--group", group)
    out = shell.folder / "out.jsonl"
    shell.run("export", "--group", group, "--out", out)
    lines = [json.loads(line) for line in out.read_text().splitlines()]
    assert [line["foot_length_mm"] for line in lines] == [250, 250]


def test_questions_are_answered_from_the_active_calibration(shell, group, question) -> None:
    out, asked = shell.folder / "answers.csv", shell.file(question)
    done = shell.run("suggest", asked, "--group", group, "--out", out)
    assert (done.exit_code, done.stdout) == (0, f"Answered 1 question in {out}.\n")
    before = list(csv.DictReader(out.read_text().splitlines()))
    assert before[0]["case_id"] == "a"
    lines = [",".join(USUAL_COLUMNS), *["Alder,250,230,315,220,1,30,42,64,3,4,4,3,2"] * 30]
    shell.run("import", shell.file("\n".join(lines), "deep.csv"), "--group", group)
    assert shell.run("calibrate", "--group", group).exit_code == 0
    shell.run("suggest", asked, "--group", group, "--out", out)
    after = list(csv.DictReader(out.read_text().splitlines()))
    assert int(after[0]["slow_decrease_rounds"]) < int(before[0]["slow_decrease_rounds"])


def test_a_refused_file_of_questions_leaves_no_output_file(shell, group, question) -> None:
    wrong, out = shell.file(question + question.splitlines()[1][:-1] + "x\n"), "answers.csv"
    before = set(os.listdir(shell.folder))
    done = shell.run("suggest", wrong, "--group", group, "--out", shell.folder / out)
    assert done.exit_code == 1
    assert "row 3: medium_decrease_rounds is 'x'" in done.stderr
    assert set(os.listdir(shell.folder)) == before


@pytest.mark.only_on("sqlite")
@pytest.mark.parametrize("content", ["{}a,-1\n", "", "colour\nred\n"])
def test_a_refused_file_of_questions_leaves_an_output_file_as_it_was(
    shell, group, question, content: str
) -> None:
    wrong = shell.file(content.format(question))
    out = shell.file("kept", "answers.csv")
    assert shell.run("suggest", wrong, "--group", group, "--out", out).exit_code == 1
    assert out.read_text() == "kept"


def test_answerable_questions_can_be_answered_alone(shell, group, question) -> None:
    asked = shell.file(question + question.splitlines()[1].replace(",16,", ",17,") + "\n")
    out = shell.folder / "answers.csv"
    done = shell.run("suggest", asked, "--group", group, "--out", out, "--keep-good")
    assert done.exit_code == 3
    assert "row 3: closing_stitches is 17" in done.stderr
    assert len(out.read_text().splitlines()) == 2


@pytest.mark.only_on("sqlite")
@pytest.mark.parametrize("where", ["missing/answers.csv", "pipe.csv"])
def test_a_place_that_cannot_be_written_is_named(shell, group, where: str) -> None:
    os.mkfifo(shell.folder / "pipe.csv")
    done = shell.run("export", "--group", group, "--out", shell.folder / where)
    assert done.exit_code == 1
    assert where in done.stderr
    assert done.stderr.count("\n") == 1
    assert (shell.folder / "pipe.csv").is_fifo()


@pytest.mark.only_on("sqlite")
@pytest.mark.parametrize(
    ("command", "endings"),
    [
        (("export", "--group", "{group}"), ".csv or .xlsx or .jsonl"),
        (("template",), ".csv or .xlsx"),
        (("sizes", "export", "--group", "{group}", "--design", "x"), ".csv or .xlsx"),
        (("member", "export", "Alder", "--group", "{group}"), ".json or .zip"),
    ],
)
@pytest.mark.parametrize("name", ["out.pdf", "out"])
def test_a_kind_of_file_that_cannot_be_written_is_refused(
    shell, group, command: tuple[str, ...], endings: str, name: str
) -> None:
    out = shell.folder / name
    asked = (word.format(group=group) for word in command)
    done = shell.run(*asked, "--out", out)
    assert (done.exit_code, out.exists()) == (2, False)
    assert f"'--out': {out} must end in {endings}" in done.stderr


@pytest.mark.only_on("sqlite")
def test_a_link_to_a_file_stays_a_link(shell, group) -> None:
    target = shell.file("old", "target.csv")
    link = shell.folder / "link.csv"
    link.symlink_to(target)
    assert shell.run("export", "--group", group, "--out", link).exit_code == 0
    assert link.is_symlink()
    assert target.read_text().startswith("reporter,")


@pytest.mark.parametrize(
    "arguments",
    [
        ("import", "nothing.csv", "--group", "g"),
        ("import", "--group", "g"),
        ("suggest", "nothing.csv", "--group", "g", "--out", "x"),
        ("export", "--group", "g"),
        ("export", "--out", "x"),
        ("calibrate",),
        ("group", "create"),
        ("nonsense",),
        ("import", "--nonsense"),
    ],
)
@pytest.mark.only_on("sqlite")
def test_wrong_usage_exits_with_2(shell, arguments: tuple[str, ...]) -> None:
    done = shell.run(*arguments)
    assert done.exit_code == 2
    assert done.stdout == ""
    assert "Usage: " in done.stderr
