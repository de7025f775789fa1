"""Starting is quick: nothing is loaded that only some requests, or other commands, need."""

from __future__ import annotations

import subprocess
import sys

import click
import pytest

from service.cli import COMMANDS, main

HEAVY = ("sklearn", "scipy.stats", "pandas", "openpyxl", "python_calamine", "alembic")

ANSWERS = """
import sys

from service.commands import keeping
from service.config import Settings

client = keeping.create_app(Settings(sys.argv[1])).test_client()
assert client.get("/readyz").status_code == 200
version = client.get("/v1/consent").json["version"]
founder = {"name": "Invented Group", "steward": "Alder", "consent_version": version}
made = client.post("/v1/groups", json=founder).json
group, known = f"/v1/groups/{made['id']}", {"Authorization": f"Bearer {made['token']}"}
foot = {"foot_length_mm": 252, "foot_circumference_mm": 236, "heel_diagonal_mm": 318}
sock = {
    "foot": foot, "yarn_weight": 1, "stitches_per_10cm": 30, "rounds_per_10cm": 42,
    "heel_stitches": 64, "medium_decrease_rounds": 4,
}
question = {**sock, "closing_stitches": 16}
suggested = client.post(f"{group}/suggestions", json=question, headers=known)
assert suggested.status_code == 201, suggested.json
assert suggested.json["evidence"]["reports"] == 0
assert client.get(f"{group}/reports", headers=known).json["items"] == []
assert client.get("/ask", follow_redirects=True).status_code == 200
print(*(name for name in sys.argv[2:] if name in sys.modules))
"""


ONE_COMMAND = """
import sys

from service.cli import main

main(["group", "--help"], standalone_mode=False)
print(*(name for name in sys.modules if name.startswith("service.commands.")))
"""


def ran(code: str, *arguments: str) -> list[str]:
    """Return the words that some code printed last, in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.split("\n")[-2].split()


def test_a_server_starts_and_answers_without_what_only_some_requests_need(
    database_url: str,
) -> None:
    assert ran(ANSWERS, database_url, *HEAVY) == []


def test_a_command_is_loaded_without_the_others() -> None:
    loaded = {name.removeprefix("service.commands.") for name in ran(ONE_COMMAND)}
    assert loaded == {"loading", "groups", "opening"}


@pytest.mark.parametrize("name", COMMANDS)
def test_a_command_has_the_name_that_it_is_listed_by(name: str) -> None:
    command = main.get_command(click.Context(main), name)
    assert command is not None
    assert command.name == name
