"""The search comes to an end where many answer at random. Nobody in these pools exists."""

from __future__ import annotations

import numpy as np

from models.learning import estimator
from models.learning.evidence import Evidence

TRUTH = {"excess_depth_cm": 1.2, "intercept": -0.3, "diagonal": 0.2, "yarn_weight_2": 0.4}


def test_scales_that_go_round_settle(worlds, monkeypatch) -> None:
    """All 200 passes were made before, the scales of blocks going up and down by a tenth."""
    reports, every = 400, 2
    draw = np.random.default_rng(3)
    truth = worlds.truth(TRUTH, reporter_sd=0.6, share_without_diagonal=0.2)
    drawn = worlds.evidence(draw, truth, reports)
    far = draw.choice([-2.0, 2.0], reports)
    score = np.where(drawn.reporter % every == 0, far, drawn.score)
    model = estimator.regression()
    monkeypatch.setattr(estimator, "regression", lambda: model)
    estimator.fit(Evidence.of({**drawn.columns, "fit_score": score}, drawn.reporter))
    assert model.n_iter_ < model.max_iter
