"""Evidence in blocks gives what all of it gives at once."""

from __future__ import annotations

import stat
from collections.abc import Callable, Iterator

import numpy as np
import pytest
from distributed import Client, LocalCluster

from models.domain.gauge import Gauge
from models.domain.policy import Policy
from models.learning.calibration import Calibration, calibrate, calibrate_blocks
from models.learning.cluster import OnCluster
from models.learning.evidence import Evidence
from models.learning.evidence_blocks import EvidenceBlocks, in_blocks
from models.learning.ordinal import preparation
from models.learning.ordinal.blocks import Blocks, InMemory
from models.learning.question import Question
from models.learning.spilled import Spilled
from models.learning.suggest import suggest
from models.learning.wider import Wider

CLOSE = 1e-8
QUESTIONS = [
    Question(
        {"foot_length_mm": mm, "foot_circumference_mm": 231}, 1, Gauge(30, 42), Policy(64, 16, 4)
    )
    for mm in (235, 262)
]
SCALES = ("offset_sd", "habit_variance", "misfit_variance", "contamination")


def drawn(worlds, number: int) -> Evidence:
    """Return reports, some without a diagonal and some of people who call all socks shallow."""
    terms = {"excess_depth_cm": 1.2, "intercept": -0.3, "diagonal": 0.2, "yarn_weight_2": 0.4}
    truth = worlds.truth(terms, reporter_sd=0.6, share_without_diagonal=0.2)
    draw = np.random.default_rng(3)
    found = worlds.evidence(draw, truth, number)
    strange = np.isin(found.reporter, np.arange(0, found.reporters, 9))
    score = np.where(strange, -2.0, found.score)
    return Evidence.of({**found.columns, "fit_score": score}, found.reporter)


def chances(calibration: Calibration, question: Question) -> list[float]:
    return [one.chance_just_right for one in suggest(calibration, question).candidates]


def assert_alike(found: Calibration, whole: Calibration) -> None:
    for name in ("mean", "covariance", *SCALES):
        there, here = (getattr(one.posterior, name) for one in (found, whole))
        np.testing.assert_allclose(there, here, rtol=0, atol=CLOSE, err_msg=name)
    assert found.seen.yarn_weights == whole.seen.yarn_weights
    for one in QUESTIONS:
        assert chances(found, one) == pytest.approx(chances(whole, one), abs=CLOSE)
    for name, figures in whole.seen.figures.items():
        assert found.seen.figures[name] == pytest.approx(figures, rel=1e-12)
    kept = ("reports", "reporters", "fingerprint")
    assert [getattr(found, of) for of in kept] == [getattr(whole, of) for of in kept]


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Client]:
    """Yield a client of two workers on loopback; what they get is pickled."""
    with LocalCluster(
        n_workers=2,
        threads_per_worker=1,
        processes=False,
        host="127.0.0.1",
        protocol="tcp://",
        dashboard_address="127.0.0.1:0",
        local_directory=str(tmp_path_factory.mktemp("workers")),
    ) as cluster:
        with Client(cluster) as client:
            yield client


@pytest.fixture
def held(request: pytest.FixtureRequest) -> Callable[[str, InMemory], Blocks]:
    """Return what holds blocks where it is told."""

    def hold(where: str, blocks: InMemory) -> Blocks:
        if where == "workers":
            return OnCluster.of(request.getfixturevalue("client"), blocks.parts)
        return Spilled.of(blocks.parts) if where == "files" else blocks

    return hold


# Where 100 rows are enough the search starts from a fit to some of the reporters.
@pytest.mark.parametrize(
    ("where", "number", "enough"), [("memory", 13, 100), ("files", 2, 8_000), ("workers", 3, 100)]
)
def test_blocks_give_what_all_reports_give_at_once(
    worlds, held, monkeypatch, where: str, number: int, enough: int
) -> None:
    monkeypatch.setattr(preparation, "ENOUGH_TO_START", enough)
    evidence = drawn(worlds, 900)
    parts = EvidenceBlocks.of(held(where, in_blocks(evidence, number)))
    assert abs(len(parts.ends) - number) <= 1
    found, offsets = calibrate_blocks(parts, evidence.fingerprint())
    assert_alike(found, calibrate(evidence))
    assert offsets.doubt.max() > 0.5


def test_blocks_beside_a_wider_pool_give_what_all_reports_give_beside_it(worlds) -> None:
    evidence, others = drawn(worlds, 900), calibrate(drawn(worlds, 700))
    assert others.alone is not None
    wider = Wider(others.alone, 1, others.reporters)
    parts = EvidenceBlocks.of(in_blocks(evidence, 4))
    found, _ = calibrate_blocks(parts, evidence.fingerprint(), wider)
    whole, without = calibrate(evidence, wider), calibrate(evidence)
    assert_alike(found, whole)
    assert found.fingerprint != without.fingerprint
    assert np.abs(found.posterior.mean - without.posterior.mean).max() > 1e-3
    assert found.alone is not None
    for name, of_rows in vars(without.alone).items():
        np.testing.assert_allclose(getattr(found.alone, name), of_rows, rtol=1e-6, err_msg=name)


def test_files_go_with_the_blocks_that_are_in_them() -> None:
    blocks = Spilled.of([np.ones(3), np.zeros(2)])
    folder = blocks.folder.path
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    some = blocks.only([1])
    del blocks
    assert some.each(len) == [2]
    del some
    assert not folder.exists()


def test_nobody_s_reports_are_in_two_blocks(worlds) -> None:
    evidence = drawn(worlds, 900)
    parts = in_blocks(evidence, 5).parts
    held = [set(part.reporter.tolist()) for part in parts]
    assert sum(map(len, held)) == evidence.reporters == len(set.union(*held))
    assert sum(part.reports for part in parts) == 900
    sizes = [part.reports for part in parts]
    assert max(sizes) < 2 * min(sizes)
