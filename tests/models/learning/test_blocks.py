"""Evidence in blocks gives what all of it gives at once."""

from __future__ import annotations

import numpy as np
import pytest

from models.learning.calibration import Calibration, calibrate, calibrate_blocks
from models.learning.evidence import Evidence
from models.learning.evidence_blocks import EvidenceBlocks, in_blocks

CLOSE = 1e-8
SCALES = ("offset_sd", "habit_variance", "misfit_variance", "contamination")


def drawn(worlds, number: int) -> Evidence:
    """Return reports in a world with offsets, missing diagonals and some who call every sock shallow."""
    terms = {"excess_depth_cm": 1.2, "intercept": -0.3, "diagonal": 0.2, "yarn_weight_2": 0.4}
    truth = worlds.truth(terms, reporter_sd=0.6, share_without_diagonal=0.2)
    draw = np.random.default_rng(3)
    found = worlds.evidence(draw, truth, number)
    strange = np.isin(found.reporter, np.arange(0, found.reporters, 9))
    score = np.where(strange, -2.0, found.score)
    return Evidence.of({**found.columns, "fit_score": score}, found.reporter)


def assert_alike(found: Calibration, whole: Calibration) -> None:
    for name in ("mean", "covariance", *SCALES):
        there, here = (getattr(one.posterior, name) for one in (found, whole))
        np.testing.assert_allclose(there, here, rtol=0, atol=CLOSE, err_msg=name)
    assert found.seen.yarn_weights == whole.seen.yarn_weights
    for name, figures in whole.seen.figures.items():
        assert found.seen.figures[name] == pytest.approx(figures, rel=1e-12)
    kept = ("reports", "reporters", "fingerprint")
    assert [getattr(found, of) for of in kept] == [getattr(whole, of) for of in kept]


# The second pool is large enough to start from a fit to some of its reporters.
@pytest.mark.parametrize(("reports", "blocks"), [(900, 2), (900, 13), (20_000, 7)])
def test_blocks_give_what_all_reports_give_at_once(worlds, reports: int, blocks: int) -> None:
    evidence = drawn(worlds, reports)
    parts = EvidenceBlocks.of(in_blocks(evidence, blocks))
    assert abs(len(parts.ends) - blocks) <= 1
    found, offsets = calibrate_blocks(parts, evidence.fingerprint())
    assert_alike(found, calibrate(evidence))
    assert offsets.doubt.max() > 0.5


def test_nobody_s_reports_are_in_two_blocks(worlds) -> None:
    evidence = drawn(worlds, 900)
    parts = in_blocks(evidence, 5).parts
    held = [set(part.reporter.tolist()) for part in parts]
    assert sum(map(len, held)) == evidence.reporters == len(set.union(*held))
    assert sum(part.reports for part in parts) == 900
    sizes = [part.reports for part in parts]
    assert max(sizes) < 2 * min(sizes)
