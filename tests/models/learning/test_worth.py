"""What measuring would bring: held against really measuring feet of the survey's distribution."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from models.domain.anthropometry import estimate, pooled
from models.domain.foot import MEASUREMENT_NAMES
from models.domain.gauge import Gauge
from models.domain.policy import Policy
from models.learning.calibration import calibrate, geometry_alone
from models.learning.question import Question, prepared
from models.learning.suggest import suggest
from models.learning.terms import TERM_NAMES
from models.learning.worth import expected_after

DIAGONAL, ANKLE = "heel_diagonal_mm", "ankle_circumference_mm"
QUESTION = Question(
    {"foot_length_mm": 252, "foot_circumference_mm": 236}, 1, Gauge(30, 42), Policy(64, 16, 4)
)


@pytest.fixture(scope="module", params=["geometry alone", "300 reports"])
def belief(request, worlds_):
    if request.param == "geometry alone":
        return geometry_alone()
    draw = np.random.default_rng(12)
    truth = worlds_.truth.drawn(draw, reporter_sd=0.5, share_without_diagonal=0.3)
    return calibrate(worlds_.evidence(draw, truth, 300))


def reached(belief, question) -> tuple[float, float]:
    """Return the range's width in rounds and the best chance of an answer."""
    answer = suggest(belief, question)
    return answer.unrounded[1] - answer.unrounded[0], answer.best.chance_just_right


@pytest.mark.parametrize(
    ("known", "measurement"),
    [((), DIAGONAL), ((), ANKLE), ((ANKLE,), DIAGONAL), ((DIAGONAL,), ANKLE)],
)
def test_what_is_stated_is_what_measuring_brings_on_average(
    worlds_, belief, known, measurement
) -> None:
    # The outside here is the survey's published joint distribution (see models.domain.foot).
    draw = np.random.default_rng(3)
    differences = []
    for whole in worlds_.questions(draw, 400):
        taken = (*MEASUREMENT_NAMES[:2], *known)
        asked = replace(whole, foot={name: whole.foot[name] for name in taken})
        stated = expected_after(belief.figures, asked.foot, prepared(asked), measurement)
        foot = {**asked.foot, measurement: whole.foot[measurement]}
        width, chance = reached(belief, replace(asked, foot=foot))
        differences.append((stated.range_rounds - width, stated.chance - chance))
    mean, sd = np.mean(differences, axis=0), np.std(differences, axis=0)
    assert np.all(np.abs(mean) < 3.5 * sd / np.sqrt(400) + 1e-4)


def test_the_nodes_are_enough_to_average_over_one_foot() -> None:
    asked = prepared(QUESTION)
    stated = expected_after(geometry_alone().figures, QUESTION.foot, asked, DIAGONAL)
    likely = estimate(DIAGONAL, QUESTION.foot)

    def weighted(mm: float, what: int) -> float:
        foot = {**QUESTION.foot, DIAGONAL: mm}
        found = reached(geometry_alone(), replace(QUESTION, foot=foot))[what]
        return found * norm.pdf(mm, likely.value, likely.sd)

    ends = (likely.value - 6 * likely.sd, likely.value + 6 * likely.sd)
    for what, value in enumerate((stated.range_rounds, stated.chance)):
        # The best of a few candidates has kinks, which nine nodes pass over.
        exact, _ = quad(weighted, *ends, args=(what,), limit=400, epsabs=1e-5)
        assert value == pytest.approx(exact, abs=0.004)


def test_without_reports_the_heel_diagonal_is_worth_measuring_and_nothing_else() -> None:
    found = suggest(geometry_alone(), QUESTION)
    assert found.worth_measuring is not None
    assert found.worth_measuring.measurement == DIAGONAL
    assert found.worth_measuring.now.chance == found.best.chance_just_right
    assert found.worth_measuring.then.chance > found.best.chance_just_right
    measured = replace(QUESTION, foot={**QUESTION.foot, DIAGONAL: 318})
    assert suggest(geometry_alone(), measured).worth_measuring is None
    whole = replace(QUESTION, foot={**measured.foot, ANKLE: 220})
    assert suggest(geometry_alone(), whole).worth_measuring is None


def test_by_geometry_the_range_narrows_by_what_the_survey_leaves_of_the_diagonal() -> None:
    asked = prepared(QUESTION)
    stated = expected_after(geometry_alone().figures, QUESTION.foot, asked, ANKLE)
    # Residual sd of the heel diagonal: 8.2 mm by length and ball, 7.5 with the ankle (DESIGN 3).
    _, covariances = pooled()
    known = [*MEASUREMENT_NAMES[:2], ANKLE]
    gram = np.array([[covariances[a][b] for b in known] for a in known])
    cross = np.array([covariances[a][DIAGONAL] for a in known])
    left = np.sqrt(covariances[DIAGONAL][DIAGONAL] - cross @ np.linalg.solve(gram, cross))
    assert left == pytest.approx(7.5, abs=0.05)
    sure = replace(
        geometry_alone(),
        posterior=replace(geometry_alone().posterior, covariance=np.zeros((len(TERM_NAMES),) * 2)),
    )
    certain = expected_after(sure.figures, QUESTION.foot, asked, ANKLE)
    misfit = sure.posterior.misfit_variance
    depth_sd = 10 * np.sqrt((left * 0.9 / 2 / 10) ** 2 + misfit)
    assert certain.range_rounds == pytest.approx(2 * 1.2815516 * depth_sd / (300 / 42), rel=0.01)
    assert stated.range_rounds > certain.range_rounds


def test_where_nothing_can_be_chosen_nothing_is_worth_measuring() -> None:
    fixed = replace(QUESTION, policy=Policy(16, 16, 4))
    answer = suggest(geometry_alone(), fixed)
    assert len(answer.candidates) == 1
    assert answer.unrounded == (0.0, 0.0)
    assert answer.worth_measuring is None or answer.worth_measuring.narrows == 0
