"""The benchmark of decisions: its worlds are what they say, and a small run goes through."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from importlib import import_module
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from models.domain.foot import MEASUREMENT_NAMES, MEASUREMENTS

MODULES = ("attacks", "candidates", "feet", "metrics", "oracle", "population", "worlds")
ROOT = Path(__file__).parents[1]
WORLDS = ("geometry", "yarn_shape", "non_linear", "careless", "irrelevant", "adapted")


@pytest.fixture
def bench(monkeypatch: pytest.MonkeyPatch) -> SimpleNamespace:
    """Return the modules of the benchmark, which is not part of the package."""
    monkeypatch.syspath_prepend(ROOT / ".bench")
    return SimpleNamespace(**{name: import_module(f"decisions.{name}") for name in MODULES})


def ran(*command: str) -> subprocess.CompletedProcess[str]:
    """Return what came of a program of the benchmarks."""
    return subprocess.run(
        [sys.executable, *command],
        cwd=ROOT,
        env={"PYTHONPATH": str(ROOT), "PATH": os.environ["PATH"]},
        capture_output=True,
        text=True,
        check=False,
    )


def drawn(bench, world: str, reports: int, questions: int) -> SimpleNamespace:
    truth = bench.worlds.WORLDS[world](np.random.default_rng([4, 1]))
    source = bench.feet.FootSource()
    return SimpleNamespace(
        truth=truth,
        pool=bench.population.draw_reports(np.random.default_rng(5), truth, source, reports),
        asked=bench.population.draw_questions(np.random.default_rng(6), truth, source, questions),
    )


@pytest.mark.parametrize("sex", ["women", "men"])
def test_drawn_feet_have_the_published_figures(bench, sex: str) -> None:
    feet = bench.feet.drawn(sex, np.random.default_rng(0), 40_000)
    correlations = np.corrcoef(feet.T)
    for k, measurement in enumerate(MEASUREMENTS):
        figures = getattr(measurement, sex)
        assert feet[:, k].mean() == pytest.approx(figures.mean, abs=0.3)
        assert feet[:, k].std() == pytest.approx(figures.sd, rel=0.02)
        assert correlations[k, :k] == pytest.approx(figures.correlations, abs=0.02)


def test_a_survey_s_rows_can_take_their_place(bench, tmp_path: Path) -> None:
    file = tmp_path / "feet.csv"
    file.write_text("sex," + ",".join(MEASUREMENT_NAMES) + "\nfemale,250,230,315,220\n")
    source = bench.feet.FootSource(bench.feet.survey_rows(file))
    feet = source.draw(np.random.default_rng(0), 3)
    assert [values.tolist() for values in feet.values()] == [[v] * 3 for v in (250, 230, 315, 220)]


@pytest.mark.parametrize("world", WORLDS)
def test_no_decision_beats_the_one_who_sees_everything(bench, world: str) -> None:
    found = drawn(bench, world, 1, 150)
    chances = bench.oracle.true_chances(found.truth, found.asked)
    rows = np.arange(150)
    reached = chances[rows, bench.oracle.oracle_choice(found.truth, found.asked)]
    if not found.truth.missing_diagonals:
        np.testing.assert_allclose(reached, chances.max(axis=1))
    assert reached.mean() > chances[rows, found.asked.table].mean()


@pytest.mark.parametrize("world", WORLDS)
def test_all_scores_occur_and_diagonals_are_missing_where_announced(bench, world: str) -> None:
    found = drawn(bench, world, 2000, 1)
    columns = found.pool.columns
    assert set(columns["fit_score"]) == {-2, -1, 0, 1, 2}
    missing = np.isnan(columns["heel_diagonal_mm"]).mean()
    assert missing == pytest.approx(found.truth.missing_diagonals, abs=0.05)
    assert (columns["fast_decrease_rounds"] >= 0).all()


def test_every_candidate_answers_with_what_the_stitches_allow(bench) -> None:
    found = drawn(bench, "yarn_shape", 60, 20)
    for candidate in bench.candidates.CANDIDATES.values():
        decision = candidate.decide(found.pool.first(60), found.asked)
        assert found.asked.offered[np.arange(20), decision.choice].all()


def test_ours_learns_and_nothing_exceeds_the_oracle(bench) -> None:
    found = drawn(bench, "yarn_shape", 400, 150)
    sheet = bench.metrics.exam(found.truth, found.asked)
    ours, geometry = (
        bench.metrics.marked(
            sheet, bench.candidates.CANDIDATES[name].decide(found.pool.first(400), found.asked)
        )
        for name in ("ours", "geometry alone")
    )
    assert geometry.share < ours.share <= 1
    assert ours.calibration < 0.15
    assert 0.5 < ours.coverage <= 1


def test_attacks_spoil_as_much_as_they_say(bench) -> None:
    clean = drawn(bench, "geometry", 300, 1).pool.first(300)
    draw = np.random.default_rng(1)
    colluding = bench.attacks.colluding(draw, clean, 0.3, -2.0)
    assert (colluding.score == -2).mean() > (clean.score == -2).mean() + 0.15
    wild = bench.attacks.with_leverage(draw, clean, 0.1)
    far = (wild.columns["foot_length_mm"] < 0.9 * clean.columns["foot_length_mm"].max()).sum()
    assert far >= 30
    assert wild.reports == clean.reports


def test_a_small_run_is_tabled_and_drawn(tmp_path: Path) -> None:
    names = ["ours", "BayesianRidge on residual"]
    sizes = ["--sizes", "10", "25", "--questions", "20", "--seeds", "0", "1"]
    done = ran(".bench/decisions", "--out", str(tmp_path), *sizes, "--candidates", *names)
    assert done.returncode == 0, done.stderr
    assert len((tmp_path / "results.jsonl").read_text().splitlines()) == 6 * 2 * 2
    table, picture = ((tmp_path / name).read_text() for name in ("table.md", "picture.svg"))
    assert all(f"| {name} |" in table for name in names)
    assert picture.startswith("<svg")
    assert picture.count("<polyline") == 4


def test_a_small_run_of_plans_is_tabled(tmp_path: Path) -> None:
    asked = ["--seeds", "0", "1", "--worlds", "geometry", "--amounts", "6"]
    done = ran(".bench/plans", "--out", str(tmp_path), *asked)
    assert done.returncode == 0, done.stderr
    table = (tmp_path / "table.md").read_text()
    for strategy in ("ours", "determinant", "random"):
        found = re.search(rf"\| geometry \| {strategy} \| ([01]\.\d+) \| ([01]\.\d+) \|", table)
        assert found, table
        assert all(0.3 < float(share) <= 1 for share in found.groups())


def test_a_small_run_of_blocks_compares_files_with_memory() -> None:
    done = ran(".bench/blocks.py", "60", "3")
    assert done.returncode == 0, done.stderr
    assert "60 reports, 3 blocks" in done.stdout
    found = re.search(r"files .* (\S+) apart, the same fingerprint", done.stdout)
    assert found, done.stdout
    assert float(found[1]) < 1e-8


def test_a_small_run_of_membership_guesses_is_tabled() -> None:
    worlds = ["--worlds", "geometry", "careless", "--processes", "1"]
    sizes = ["--people", "12", "--groups", "2", "--targets", "2", "--others", "5"]
    done = ran(".bench/membership.py", *worlds, *sizes)
    assert done.returncode == 0, done.stderr
    for what in ("what everybody is shown", "the same unrounded", "coefficients"):
        found = re.search(rf"\| {what}[^|]*\|(.*)\|\n", done.stdout)
        assert found, done.stdout
        assert all(0 <= float(area) <= 1 for area in found[1].split("|"))
    assert "geometry: group 2 of 2" in done.stderr


def test_an_attacker_who_sees_everything_guesses_right_and_one_who_sees_nothing_does_not(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.syspath_prepend(ROOT / ".bench")
    membership = import_module("membership")
    draw = np.random.default_rng(3)
    moved = 3.0

    def one(value: float) -> dict[str, float]:
        return {"telling": value, "silent": 1.0}

    without = [one(value) for value in draw.normal(size=150)]
    world = membership.World(
        [one(value) for value in draw.normal(size=60)],
        without,
        [[one(row["telling"] + moved * sign) for sign in (1, -1)] for row in without],
    )
    exact = membership.scores(world, dict, dict)
    area, error = membership.with_error(*exact)
    # Two normal distributions 3 sds apart: the area is Phi(3 / sqrt(2)) = .983.
    assert area == pytest.approx(0.983, abs=3 * error)
    assert error < 0.01

    def silent(row: dict[str, float]) -> dict[str, float]:
        return {"silent": row["silent"]}

    assert membership.with_error(*membership.scores(world, silent, silent)) == (0.5, 0.0)


def can_mount(folder: Path) -> bool:
    """Return whether a file system can be mounted; root in a container often may not."""
    if os.geteuid() != 0 or shutil.which("mount") is None:
        return False
    mount = ["mount", "-t", "tmpfs", "none", str(folder)]
    if subprocess.run(mount, capture_output=True, check=False).returncode != 0:
        return False
    subprocess.run(["umount", str(folder)], check=True)
    return True


@pytest.mark.parametrize(
    ("name", "options"),
    [
        ("kills", ["--times", "1"]),
        ("imports", ["--times", "2"]),
        ("upgrades", []),
        ("edits", []),
        ("held", []),
        ("soak", []),
        ("full", []),
        ("hostile", []),
    ],
)
def test_a_short_run_of_faults_finds_that_every_claim_holds(
    name: str, options: list[str], tmp_path: Path
) -> None:
    if name == "full" and not can_mount(tmp_path):
        pytest.skip("mounting a small file system needs root that may mount")
    done = ran(".bench/faults", name, "--short", *options)
    claims = re.findall(r"^\| (?!claim)(.+) \| .* \| (holds|BROKEN) \|$", done.stdout, re.MULTILINE)
    assert len(claims) >= 2, done.stderr
    of_this_machine = ("slowest", "95 % of writes", "calibrations: ")
    broken = [what for what, holds in claims if holds == "BROKEN"]
    assert [what for what in broken if not what.startswith(of_this_machine)] == [], done.stdout


def test_a_short_run_of_rates_says_how_much_of_the_bare_rate_is_reached() -> None:
    done = ran(".bench/rates.py", "--pairs", "8")
    found = re.findall(r"(\d+)% of the bare rate", done.stdout)
    assert len(found) == 2, done.stderr
    assert all(0 < int(share) < 200 for share in found)
    assert "times, wanted below 5" in done.stdout


def test_a_short_run_of_lists_says_what_each_costs() -> None:
    done = ran(".bench/lists.py", "300")
    found = re.findall(r"300 reports, \d at a time, (.+): [\d.]+ ms, [\d.]+x", done.stdout)
    assert len(found) == 10, done.stderr
    assert {"own reports", "own suggestions", "held reports"} <= set(found)
