"""Summaries: what is in them, how coarse they are, and which are refused. Groups are invented."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

from models.domain.errors import Invalid
from models.learning.calibration import calibrate
from models.learning.evidence import Evidence
from models.learning.factor import Factor
from models.learning.pooling import pooled
from models.learning.summary import FEWEST_PEOPLE, FORM, Summary, summary_of
from models.learning.terms import TERM_NAMES

ORIGIN = "5eed" * 8


@pytest.fixture(scope="module")
def pool(worlds_) -> Evidence:
    draw = np.random.default_rng(11)
    return worlds_.evidence(draw, worlds_.truth.drawn(draw, reporter_sd=0.5), 720)


def shared(evidence: Evidence, wider: Any = None) -> Summary:
    made = calibrate(evidence, wider)
    assert made.alone is not None
    return summary_of(ORIGIN, made.reporters, made.reports, made.alone)


@pytest.fixture(scope="module")
def summary(pool: Evidence) -> Summary:
    return shared(pool)


def test_it_goes_through_json_and_holds_terms_and_nothing_else(summary: Summary) -> None:
    text = json.dumps(summary.to_json())
    told = json.loads(text)
    assert Summary.from_json(told).to_json() == told
    assert set(told) == {"form", "origin", "people", "reports", "coefficients"}
    assert {name for one in told["coefficients"] for name in one} == {
        "term",
        "estimate",
        "precision",
    }
    assert len(text) < 8_000


def test_it_says_the_same_whatever_the_calibration_began_with(
    pool: Evidence, summary: Summary
) -> None:
    """Nothing is counted twice: neither the geometry nor the pool is in a summary."""
    others = pooled([Summary("0" * 32, 200, 2000, summary.factor)])
    assert others is not None
    assert (
        calibrate(pool, others).posterior.mean.tolist() != calibrate(pool).posterior.mean.tolist()
    )
    assert shared(pool, others).to_json() == summary.to_json()


def test_rounding_is_far_within_the_standard_error(pool: Evidence, summary: Summary) -> None:
    exact = calibrate(pool).alone
    assert exact is not None
    said = exact.precision > 1e-3
    away = (summary.factor.estimate - exact.estimate)[said] * np.sqrt(exact.precision[said])
    assert np.abs(away).max() < 0.14
    np.testing.assert_allclose(summary.factor.precision[said], exact.precision[said], rtol=0.051)


def test_one_person_of_fifty_changes_few_figures_and_none_by_much(worlds_) -> None:
    draw = np.random.default_rng(21)
    group = worlds_.evidence(draw, worlds_.truth.drawn(draw, reporter_sd=0.5), 640)
    people = np.unique(group.reporter)
    assert len(people) >= FEWEST_PEOPLE + 1
    whole = shared(group).factor
    moved = []
    for one in people[:6]:
        less = shared(group.only(group.reporter != one)).factor
        said = (whole.precision > 0) & (less.precision > 0)
        errors = (whole.estimate - less.estimate)[said] * np.sqrt(whole.precision[said])
        moved.append(np.abs(errors) > 0.05)
    assert np.mean(np.concatenate(moved)) < 0.5, "most figures are as they were"


def test_people_are_told_in_tens_below_and_reports_in_two_digits() -> None:
    told = Factor(np.full(len(TERM_NAMES), 20.0), np.zeros(len(TERM_NAMES)))
    found = [summary_of(ORIGIN, people, n, told) for people, n in ((50, 50), (59, 718), (77, 1234))]
    assert [(one.people, one.reports) for one in found] == [(50, 50), (50, 720), (70, 1200)]


@pytest.mark.parametrize("scale", [1e-9, 9.9e-7, 1e-6, 0.01, 20.0, 1e6, 1.01e6, 1e12])
@pytest.mark.parametrize("estimate", [0.0, -0.3, 99.9, -1e3])
def test_whatever_is_shared_is_taken_in(scale: float, estimate: float) -> None:
    told = Factor(np.full(len(TERM_NAMES), 20.0), np.zeros(len(TERM_NAMES)))
    told.precision[3], told.estimate[3] = scale, estimate
    shared = summary_of(ORIGIN, 60, 700, told).to_json()
    assert Summary.from_json(shared).to_json() == shared


def test_fewer_than_fifty_people_share_nothing() -> None:
    told = Factor(np.ones(len(TERM_NAMES)), np.zeros(len(TERM_NAMES)))
    with pytest.raises(Invalid, match="what fewer people know is not shared"):
        summary_of(ORIGIN, FEWEST_PEOPLE - 1, 5000, told)


def test_a_calibration_of_fewer_than_fifty_people_keeps_nothing_to_share(pool: Evidence) -> None:
    few = pool.only(pool.reporter < FEWEST_PEOPLE - 1)
    assert calibrate(few).alone is None
    assert calibrate(few).to_json()["alone"] is None


@pytest.mark.parametrize(
    ("field", "value", "named"),
    [
        ("form", "heeldepth summary 0", "form"),
        ("form", None, "form"),
        ("origin", "A" * 32, "origin"),
        ("origin", "0" * 31, "origin"),
        ("origin", 7, "origin"),
        ("people", 49, "people"),
        ("people", 60.0, "people"),
        ("people", True, "people"),
        ("people", 10**400, "people"),
        ("reports", -1, "reports"),
        ("coefficients", [], "coefficients"),
        ("coefficients", "x", "coefficients"),
        ("coefficients", [{}] * (len(TERM_NAMES) + 1), "coefficients"),
        ("coefficients", ["x"], "coefficients.0.term"),
    ],
)
def test_what_cannot_be_a_summary_is_refused_by_name(summary, field, value, named) -> None:
    with pytest.raises(Invalid) as caught:
        Summary.from_json({**summary.to_json(), field: value})
    assert caught.value.faults[0].field == named


@pytest.mark.parametrize("name", ["estimate", "precision"])
@pytest.mark.parametrize(
    "bad", [float("nan"), float("inf"), -float("inf"), "1", None, True, 1e300, -1e7, 10**400]
)
def test_every_figure_must_be_a_number_within_its_limits(summary, name, bad) -> None:
    given = summary.to_json()
    given["coefficients"][1] = {**given["coefficients"][1], name: bad}
    with pytest.raises(Invalid) as caught:
        Summary.from_json(given)
    assert [fault.field for fault in caught.value.faults] == [f"coefficients.1.{name}"]


@pytest.mark.parametrize("precision", [0, 0.0, -1.0])
def test_a_precision_is_above_zero(summary, precision) -> None:
    given = summary.to_json()
    given["coefficients"][0]["precision"] = precision
    with pytest.raises(Invalid, match="precision"):
        Summary.from_json(given)


@pytest.mark.parametrize("term", ["heel", None, 3, "intercept"])
def test_terms_are_known_and_named_once(summary, term) -> None:
    given = summary.to_json()
    assert given["coefficients"][0]["term"] == "intercept"
    given["coefficients"][1]["term"] = term
    with pytest.raises(Invalid, match="once"):
        Summary.from_json(given)
    assert given["form"] == FORM
