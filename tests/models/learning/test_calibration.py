"""Calibrations as JSON, and which figures of people they hold."""

from __future__ import annotations

import json
import pickletools

import numpy as np
import orjson
import pytest

from models.domain.errors import Outdated
from models.domain.foot import MEASUREMENT_NAMES
from models.learning.calibration import (
    Calibration,
    calibrate,
    coefficients,
    geometry_alone,
    usable,
)
from models.learning.evidence import Evidence
from models.learning.suggest import suggest
from models.learning.terms import EXCESS, TERM_NAMES

TRUTH = {EXCESS: 1.5, "intercept": -0.4}


@pytest.fixture
def evidence(worlds) -> Evidence:
    return worlds.evidence(np.random.default_rng(2), worlds.truth(TRUTH), 200)


@pytest.mark.parametrize(
    ("dumps", "loads"), [(json.dumps, json.loads), (orjson.dumps, orjson.loads)]
)
def test_json_gives_back_every_bit(evidence, dumps, loads) -> None:
    made = calibrate(evidence)
    text = dumps(made.to_json())
    again = Calibration.from_json(loads(text))
    assert again.posterior.mean.tobytes() == made.posterior.mean.tobytes()
    assert again.posterior.covariance.tobytes() == made.posterior.covariance.tobytes()
    for scale in ("offset_sd", "habit_variance", "misfit_variance", "contamination"):
        assert getattr(again.posterior, scale) == getattr(made.posterior, scale)
    assert made.to_json()["noise_variance"] == made.posterior.noise_variance
    assert again.seen == made.seen
    assert (again.reports, again.reporters) == (made.reports, made.reporters)
    assert dumps(again.to_json()) == text


def test_a_calibration_read_back_answers_the_same(evidence, worlds) -> None:
    made = calibrate(evidence)
    again = Calibration.from_json(json.loads(json.dumps(made.to_json())))
    for question in worlds.questions(np.random.default_rng(1), 20):
        assert suggest(again, question) == suggest(made, question)


def test_a_calibration_is_no_pickle_and_names_nobody(evidence) -> None:
    stored = json.dumps(calibrate(evidence).to_json(), allow_nan=False)
    with pytest.raises(ValueError, match="unknown"):
        list(pickletools.genops(stored.encode()))
    assert "reporter_" not in stored
    some = Evidence.of(
        {name: values[::10] for name, values in evidence.columns.items()}, evidence.reporter[::10]
    )
    fewer = json.dumps(calibrate(some).to_json(), allow_nan=False)
    assert len(stored) < 1.05 * len(fewer)  # it does not grow with the reports


@pytest.mark.parametrize("changed", ["terms", "estimator"])
def test_a_calibration_of_another_version_is_refused_in_words(evidence, changed: str) -> None:
    stored = {**calibrate(evidence).to_json(), changed: ["something else"]}
    with pytest.raises(Outdated, match="calibrate again"):
        Calibration.from_json(stored)


def test_in_place_of_a_calibration_of_another_version_geometry_answers(evidence) -> None:
    made = calibrate(evidence)
    stored = {**made.to_json(), "terms": ["something else"]}
    found, geometry = usable(stored), geometry_alone()
    assert (found.outdated, geometry.outdated, found.reports) == (True, False, 0)
    assert found.posterior.mean.tolist() == geometry.posterior.mean.tolist()
    assert found.posterior.covariance.tolist() == geometry.posterior.covariance.tolist()
    assert not usable(made.to_json()).outdated


def test_calibrated_without_a_report_geometry_answers_as_if_never_calibrated(worlds) -> None:
    made = calibrate(worlds.evidence(np.random.default_rng(1), worlds.truth(TRUTH), 0))
    for question in worlds.questions(np.random.default_rng(1), 20):
        assert suggest(made, question) == suggest(geometry_alone(), question)
    assert (made.reports, made.reporters, made.seen) == (0, 0, geometry_alone().seen)


def test_coefficients_have_names_and_standard_errors(evidence) -> None:
    made = calibrate(evidence)
    shown = coefficients(made.to_json())
    assert [one["term"] for one in shown] == list(TERM_NAMES)
    variances = [one["standard_error"] ** 2 for one in shown]
    assert variances == pytest.approx(np.diag(made.posterior.covariance))


@pytest.mark.parametrize("reporters", [1, 9, 10])
def test_figures_of_fewer_than_ten_people_are_those_of_the_survey(evidence, reporters) -> None:
    told = Evidence.of(evidence.columns, np.arange(evidence.reports) % reporters)
    seen = calibrate(told).seen
    if reporters < 10:
        assert seen == geometry_alone().seen
    else:
        for name in MEASUREMENT_NAMES:
            values = told.columns[name]
            assert seen.figures[name] == pytest.approx((values.mean(), values.std()))
        assert seen.yarn_weights == (0, 1, 2)


def test_a_measurement_that_few_took_keeps_the_figures_of_the_survey(evidence) -> None:
    ankle = np.where(np.arange(evidence.reports) < 9, 220.0, np.nan)
    told = Evidence.of({**evidence.columns, "ankle_circumference_mm": ankle}, evidence.reporter)
    survey = geometry_alone().seen.figures["ankle_circumference_mm"]
    assert calibrate(told).seen.figures["ankle_circumference_mm"] == survey


def test_counts_are_of_reports_and_of_people(evidence) -> None:
    made = calibrate(evidence)
    assert made.reports == 200
    assert made.reporters == len(set(evidence.reporter.tolist()))
