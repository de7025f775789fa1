"""What README says is what happens."""

import re
import subprocess
import zipfile
from dataclasses import fields
from pathlib import Path

import click
import pytest

from models.actions.csv_extent import LONGEST_ROW
from models.actions.row_faults import MOST_TOLD
from models.domain import sizes
from models.domain.foot import MEASUREMENTS
from models.domain.jobs import KEPT, MOST_TRIES, MOST_UNFINISHED
from models.domain.reports import OPTIONAL_COLUMNS, USUAL_COLUMNS
from models.domain.roles import ALLOWED, EVERY_SCOPE, Role, in_order
from models.domain.sections import SECTIONS
from models.domain.yarn import YARN_WEIGHTS
from models.learning import caveats, default_caveats
from models.tables.engine import BUSY_TIMEOUT_MS
from models.tables.turns import SOON_S
from seed_demo.server import running
from service import calibrating, strict_json, uploads
from service.cli import main
from service.commands.keeping import CONNECTIONS, IDLE_S
from service.config import PREFIX, Settings
from service.imported import AT_ONCE, MOST_BYTES
from service.jobs.engine import SECONDS_TO_STOP

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text()


def marked(kind, name):
    """Return the code or the table under a marker."""
    marker = re.escape(f"<!-- {kind}: {name} -->")
    body = r"(.*?)\n\n" if kind == "table" else r"```sh\n(.*?)\n```"
    found = re.search(rf"{marker}\n{body}", README, re.DOTALL)
    assert found, f"README has no {kind} {name}"
    return found[1]


def test_each_command_is_one_line_that_can_be_pasted():
    for name in ("demo", "test"):
        command = marked("command", name)
        assert "\n" not in command
        assert "--require-hashes" in command


def ran(script, database_url, folder=None):
    """Run a script against a service of its own."""
    with running(Settings(database_url)) as port:
        return subprocess.run(
            [
                "bash",
                "-euo",
                "pipefail",
                "-c",
                script.replace("127.0.0.1:8080", f"127.0.0.1:{port}"),
            ],
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
            cwd=folder,
        )


def test_the_main_job_by_curl_alone_goes_from_nothing_to_a_suggestion(database_url):
    done = ran(marked("script", "curl"), database_url)
    assert done.returncode == 0, done.stderr
    assert "problem" not in done.stdout
    assert '"fit_score":-1' in done.stdout
    assert re.search(r'"slow_decrease_rounds":\d+.*"chance_just_right":0\.\d+', done.stdout)
    assert '"evidence":{"reports":null,"reporters":null}' in done.stdout
    assert '"instructions":[{"section":"pick up"' in done.stdout


def test_the_measurements_are_the_registry_s():
    rows = [
        f"| `{m.name}` | {'required' if m.required else 'may be empty'} | {m.text} |"
        for m in MEASUREMENTS
    ]
    assert marked("table", "measurements").splitlines()[2:] == rows


def test_the_yarn_weights_are_the_registry_s():
    rows = [
        f"| {w.number} | {w.name} | {' to '.join(map(str, w.stitches_per_4in))} |"
        for w in YARN_WEIGHTS
    ]
    assert marked("table", "yarn weights").splitlines()[2:] == rows


def test_the_columns_of_a_size_table_are_the_registry_s():
    rows = re.findall(r"\| `(\w+)` \| (.*?) \|", marked("table", "sizes"))
    assert tuple(name for name, _ in rows) == sizes.COLUMNS
    assert rows[1:-1] == [(quantity.name, quantity.text) for quantity in sizes.NUMBERS]


def test_every_warning_of_a_default_is_listed():
    source = Path(default_caveats.__file__).read_text()
    codes = set(re.findall(r'Caveat\(\s*"(\w+)"', source))
    assert len(codes) > 8
    assert all(f"| `{code}` |" in README for code in codes)


def test_the_settings_are_those_that_are_read():
    rows = re.findall(r"\| `(\w+)` \| (.*?) \|", marked("table", "settings"))
    listed = dict(rows)
    assert len(listed) == len(rows)
    known = {f"{PREFIX}{field.name.upper()}": field.default for field in fields(Settings)}
    assert sorted(listed) == sorted(known)
    known.pop(f"{PREFIX}DATABASE_URL")
    for name, default in known.items():
        assert listed[name] == f"`{default}`"


def test_the_roles_are_those_that_are_enforced():
    rows = [
        f"| {action} | {' | '.join('yes' if role in rule.roles else '' for role in Role)} | "
        f"{'all' if rule.scopes == EVERY_SCOPE else ', '.join(in_order(rule.scopes))} |"
        for action, rule in ALLOWED.items()
    ]
    assert marked("table", "roles").splitlines()[2:] == rows


def test_the_wider_pool_by_curl_alone_is_shown_used_and_left(database_url):
    done = ran(f"{marked('script', 'curl')}\n{marked('script', 'sharing')}", database_url)
    assert done.returncode == 0, done.stderr
    assert "problem" not in done.stdout
    assert '"used":false' in done.stdout
    assert '"used":true' in done.stdout


def test_joining_by_curl_alone_goes_from_an_invitation_to_leaving(database_url):
    done = ran(f"{marked('script', 'curl')}\n{marked('script', 'joining')}", database_url)
    assert done.returncode == 0, done.stderr
    assert "problem" not in done.stdout
    assert '"version":1' in done.stdout
    assert re.search(r'"scopes":\["read"\].*"token":"heeldepth_\w{38}"', done.stdout)


def test_files_go_in_and_out_by_curl_alone(database_url, tmp_path):
    done = ran(
        f"{marked('script', 'curl')}\ncd {tmp_path}\n{marked('script', 'files')}", database_url
    )
    assert done.returncode == 0, done.stderr
    assert "problem:" not in done.stdout
    assert '"dry_run":true,"taken":1' in done.stdout
    assert '"dry_run":false,"taken":1' in done.stdout
    assert len((tmp_path / "mine.csv").read_text().splitlines()) == 3
    for name in ("reports.xlsx", "mine.xlsx"):
        assert (tmp_path / name).read_bytes().startswith(b"PK")


def test_every_command_is_listed():
    for name in main.list_commands(click.Context(main)):
        assert f"`heeldepth {name}" in README


@pytest.mark.parametrize("column", [*USUAL_COLUMNS, *OPTIONAL_COLUMNS])
def test_every_column_of_a_report_is_listed(column):
    assert re.search(rf"\b{column}\b", README)


def test_every_section_is_explained():
    for section in SECTIONS:
        assert f"| {section.key} |" in README
        assert f"`{section.count.name}`" in README


def test_every_warning_code_is_explained():
    codes = set(re.findall(r'Caveat\(\s*"([a-z_]+)"', Path(caveats.__file__).read_text()))
    assert codes >= {"cannot_tell", "extrapolating"}
    for code in codes:
        assert f"| `{code}` |" in README


def test_leaving_by_curl_goes_from_taking_everything_along_to_nothing_left(database_url, tmp_path):
    names = ("curl", "joining", "leaving")
    script = "\n".join(marked("script", name) for name in names)
    done = ran(f'{script}\ncurl -sS -H "$MINE" $URL/me', database_url, tmp_path)
    assert done.returncode == 0, done.stderr
    with zipfile.ZipFile(tmp_path / "about-me.zip") as archive:
        assert b"Birch" in archive.read("members.csv")
    assert '"name":"Birch"' in done.stdout
    assert '"calibrated":{}' in done.stdout
    assert '"status":401' in done.stdout.splitlines()[-1]


@pytest.mark.parametrize(
    "told",
    [
        f"{BUSY_TIMEOUT_MS // 1000} s, then 503; on SQLite some requests only {SOON_S:.0f} s",
        f"| {calibrating.PATIENCE_S:.0f} s, then it becomes a job |",
        f"| {uploads.AT_ONCE}; others wait {uploads.PATIENCE_S} s, then 503 |",
        f"| {AT_ONCE}, in {MOST_BYTES:,} bytes of CSV; more is a job |",
        f"| a row of a file | {LONGEST_ROW:,} bytes |",
        f"the first {MOST_TOLD:,}; all are counted",
        f"| jobs that somebody has waiting in a group | {MOST_UNFINISHED} |",
        f"is begun {MOST_TRIES} times",
        f"are kept for {KEPT.total_seconds() / 3600:.0f} hours",
        f"| JSON | {strict_json.MOST_BYTES:,} bytes |",
        f"| {CONNECTIONS}; one that says nothing is closed after {IDLE_S} s |",
        f"has 5 s to finish what it is answering and {SECONDS_TO_STOP} s to put back its jobs",
    ],
)
def test_limits_are_those_of_the_code(told: str) -> None:
    assert told in " ".join(README.split())
