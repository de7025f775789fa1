"""The JSON of an answer where the reports cannot tell."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from models.actions.answers import answered
from models.domain.gauge import Gauge
from models.domain.policy import Policy
from models.learning.calibration import Calibration, geometry_alone
from models.learning.evidence import COLUMNS, Evidence
from models.learning.question import Question
from models.learning.terms import EXCESS, TERM_NAMES

QUESTION = Question(
    {"foot_length_mm": 252, "foot_circumference_mm": 236}, 1, Gauge(30, 42), Policy(64, 16, 4, 6)
)
FINER = ("fine_adjustment", "worth_measuring", "personal")


@pytest.fixture
def own() -> Evidence:
    sock = {
        **QUESTION.foot,
        **QUESTION.policy.schedule(4).counts,
        "yarn_weight": 1,
        "stitches_per_10cm": 30,
        "rounds_per_10cm": 42,
        "heel_stitches": 64,
        "decreases_per_round": 4,
        "fit_score": 1,
    }
    columns = {name: np.array([float(sock.get(name, np.nan))]) for name in COLUMNS}
    return Evidence.of(columns, np.zeros(1, dtype=np.int64))


@pytest.fixture
def contradicted() -> Calibration:
    """Return a calibration by which a deeper heel is felt as shallower."""
    mean = geometry_alone().posterior.mean.copy()
    mean[TERM_NAMES.index(EXCESS)] *= -1
    posterior = replace(geometry_alone().posterior, mean=mean)
    return replace(geometry_alone(), posterior=posterior, reports=50, reporters=12)


def test_where_the_reports_cannot_tell_it_is_marked_and_nothing_finer_is_said(
    contradicted, own
) -> None:
    found, geometry = (answered(c, QUESTION, own) for c in (contradicted, geometry_alone()))
    assert geometry["established"] is True
    assert found["established"] is False
    assert "cannot_tell" in [warning["code"] for warning in found["warnings"]]
    assert found["curve"] == geometry["curve"]
    assert all(geometry[name] is not None for name in FINER)
    assert all(found[name] is None for name in FINER)
