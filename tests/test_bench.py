"""The benchmark of decisions: its worlds are what they say, and a small run goes through."""

from __future__ import annotations

import re
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
    command = [sys.executable, ".bench/decisions", "--out", str(tmp_path), *sizes]
    done = subprocess.run(
        [*command, "--candidates", *names],
        cwd=ROOT,
        env={"PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert len((tmp_path / "results.jsonl").read_text().splitlines()) == 6 * 2 * 2
    table, picture = ((tmp_path / name).read_text() for name in ("table.md", "picture.svg"))
    assert all(f"| {name} |" in table for name in names)
    assert picture.startswith("<svg")
    assert picture.count("<polyline") == 4


def test_a_small_run_of_plans_is_tabled(tmp_path: Path) -> None:
    asked = ["--seeds", "0", "1", "--worlds", "geometry", "--amounts", "6"]
    done = subprocess.run(
        [sys.executable, ".bench/plans", "--out", str(tmp_path), *asked],
        cwd=ROOT,
        env={"PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    table = (tmp_path / "table.md").read_text()
    for strategy in ("ours", "determinant", "random"):
        found = re.search(rf"\| geometry \| {strategy} \| ([01]\.\d+) \| ([01]\.\d+) \|", table)
        assert found, table
        assert all(0.3 < float(share) <= 1 for share in found.groups())


def test_a_small_run_of_blocks_compares_files_with_memory() -> None:
    done = subprocess.run(
        [sys.executable, ".bench/blocks.py", "60", "3"],
        cwd=ROOT,
        env={"PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert "60 reports, 3 blocks" in done.stdout
    found = re.search(r"files .* (\S+) apart, the same fingerprint", done.stdout)
    assert found, done.stdout
    assert float(found[1]) < 1e-8
