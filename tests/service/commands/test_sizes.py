"""Size tables at the command line."""

from __future__ import annotations

from typing import Any

TABLE = """label,foot_length_low_mm,foot_length_high_mm,foot_circumference_low_mm,\
foot_circumference_high_mm,yarn_weight,stitches_per_10cm,rounds_per_10cm,heel_stitches,\
closing_stitches,medium_decrease_rounds,plain_rounds,slow_decrease_rounds,decreases_per_round
S,230,250,215,235,1,30,42,60,16,4,3,3,
M,250,270,230,250,1,30,42,64,16,4,3,4,
"""


def test_a_size_table_goes_in_and_comes_out_as_csv_and_as_a_workbook(
    shell: Any, group: str
) -> None:
    ours = ("--group", group, "--design", "Invented bog heel")
    done = shell.run("sizes", "import", shell.file(TABLE), *ours)
    assert (done.exit_code, done.stdout) == (0, "2 sizes new, 0 changed.\n")
    for name in ("out.csv", "out.xlsx"):
        out = shell.folder / name
        assert shell.run("sizes", "export", *ours, "--out", out).exit_code == 0
        again = shell.run("sizes", "import", out, *ours)
        assert again.stdout == "0 sizes new, 0 changed.\n", again.output
    assert (shell.folder / "out.csv").read_text() == TABLE


def test_a_wrong_row_is_named_and_nothing_is_made(shell: Any, group: str) -> None:
    wrong = TABLE.replace(",64,16,", ",64,15,")
    done = shell.run("sizes", "import", shell.file(wrong), "--group", group, "--design", "Invented")
    assert done.exit_code == 1
    assert "row 3: closing_stitches is 15: 64 stitches less 4 a round reach" in done.stderr
    missing = shell.run("sizes", "export", "--group", group, "--design", "x", "--out", "x.csv")
    assert "no design 'x'; designs here: none yet" in missing.stderr


def test_defaults_are_shown_adopted_tabled_and_undone(shell: Any, group: str) -> None:
    ours = ("--group", group, "--design", "Invented bog heel")
    shell.run("sizes", "import", shell.file(TABLE), *ours)
    shown = shell.run("defaults", *ours)
    assert shown.exit_code == 0, shown.output
    assert shown.stdout.count("Size ") == 2
    assert "today 3 plain rounds and 3 slow-decrease rounds: about" in shown.stdout
    assert "geometry's and the foot survey's" in shown.stdout
    for name, beginning in (("heel.csv", "size,S,M\n"), ("heel.txt", "Invented bog heel\n")):
        assert shell.run("defaults", *ours, "--table", shell.folder / name).exit_code == 0
        assert (shell.folder / name).read_text().startswith(beginning)
    assert shell.run("defaults", *ours, "--adopt").stdout.endswith("Adopted for 2 sizes.\n")
    again = shell.run("defaults", *ours, "--adopt")
    assert (again.exit_code, "nothing to adopt" in again.stderr) == (1, True)
    assert shell.run("defaults", *ours, "--undo").stdout.endswith("Undone for 2 sizes.\n")
    assert shell.run("defaults", *ours, "--undo").exit_code == 1
    assert shell.run("defaults", *ours, "--undo", "--adopt").exit_code == 2


def test_a_plan_is_shown_and_written(shell: Any, group: str) -> None:
    ours = ("--group", group, "--design", "Invented bog heel")
    shell.run("sizes", "import", shell.file(TABLE), *ours)
    out = shell.folder / "plan.csv"
    shown = shell.run("plan", *ours, "--socks", "4", "--out", out)
    assert shown.exit_code == 0, shown.output
    assert "4. Size " in shown.stdout
    assert "Clearly shallow on purpose" in shown.stdout
    assert "4 socks would settle" in shown.stdout
    rows = out.read_text().splitlines()
    assert len(rows) == 5
    assert rows[0].startswith("number,label,yarn_weight,")
    assert shell.run("plan", *ours, "--socks", "0").exit_code == 2
