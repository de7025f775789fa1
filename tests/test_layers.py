"""The house: imports point downwards only, and no file grows past what can be read at once."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
SOURCES = [
    file
    for folder in ("models", "service", "migrations", "seed_demo")
    for file in sorted((ROOT / folder).rglob("*.py"))
]
DOMAIN = sorted((ROOT / "models" / "domain").glob("*.py"))
LONGEST_FILE = 300
LINT = "from importlinter.cli import lint_imports_command; lint_imports_command()"


def imported(file: Path) -> set[str]:
    """Return the first names of all modules that a file imports, wherever it does so."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(file.read_text())):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{file.name} imports relatively"
            names.add(str(node.module))
    return names


def test_there_are_sources_to_look_at() -> None:
    assert len(SOURCES) > 60
    assert len(DOMAIN) > 15


def test_the_contracts_on_imports_hold() -> None:
    done = subprocess.run(
        [sys.executable, "-c", LINT, "--no-cache"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "2 kept, 0 broken" in done.stdout


@pytest.mark.parametrize("file", DOMAIN, ids=lambda file: file.name)
def test_the_domain_needs_nothing_but_the_standard_library_and_itself(file: Path) -> None:
    outside = {
        name
        for name in imported(file)
        if name.partition(".")[0] not in sys.stdlib_module_names
        and not name.startswith("models.domain")
    }
    assert not outside


def test_models_know_nothing_of_http() -> None:
    web = {"flask", "werkzeug", "flask_smorest", "marshmallow", "waitress", "http", "service"}
    for file in (ROOT / "models").rglob("*.py"):
        assert not {name.partition(".")[0] for name in imported(file)} & web, file.name


def test_tables_and_learning_do_not_see_each_other() -> None:
    for one, other in (("tables", "learning"), ("learning", "tables")):
        for file in (ROOT / "models" / one).rglob("*.py"):
            assert not [name for name in imported(file) if name.startswith(f"models.{other}")]


@pytest.mark.parametrize("file", SOURCES, ids=lambda file: f"{file.parent.name}/{file.name}")
def test_no_file_is_longer_than_300_lines(file: Path) -> None:
    assert len(file.read_text().splitlines()) <= LONGEST_FILE


def test_no_module_is_named_for_what_it_is_not_about() -> None:
    vague = {"utils", "util", "helpers", "helper", "misc", "common", "managers", "repositories"}
    assert not [file for file in SOURCES if file.stem in vague or file.parent.name in vague]
