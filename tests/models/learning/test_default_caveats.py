"""Why a default is what it is, in words."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from models.domain.policy import Policy
from models.learning.agreement import contradict
from models.learning.calibration import calibrate, geometry_alone
from models.learning.default_caveats import SizeStanding, Standing, caveats_for_default
from models.learning.defaults import defaults
from models.learning.evidence import COLUMNS, Evidence
from models.learning.splitting import Split
from models.learning.target_feet import survey_feet

NOBODY, FEW, MANY = Standing(0, 0), Standing(30, 9), Standing(30, 10)


@pytest.fixture(scope="module")
def learned(worlds_):
    draw = np.random.default_rng(3)
    truth = worlds_.truth({"excess_depth_cm": 1.35}, reporter_sd=0.5)
    return calibrate(worlds_.evidence(draw, truth, 300))


def said(calibration, sizes, standing, place=0, **changed):
    """Return what is said of a default, by code."""
    found = defaults(calibration, sizes)
    default = replace(found.sizes[place], **changed)
    return {caveat.code: caveat.text for caveat in caveats_for_default(found, default, standing)}


def test_without_reports_it_is_geometry_s(five_sizes):
    assert set(said(geometry_alone(), five_sizes, SizeStanding(NOBODY, NOBODY))) == {
        "geometry_alone"
    }
    old = replace(geometry_alone(), outdated=True)
    assert "calibrate_again" in said(old, five_sizes, SizeStanding(NOBODY, NOBODY))


def test_a_size_without_reports_says_what_it_borrows_from(learned, five_sizes):
    alone = said(learned, five_sizes, SizeStanding(NOBODY, NOBODY))["no_reports"]
    beside = said(learned, five_sizes, SizeStanding(NOBODY, MANY))["no_reports"]
    assert "in its range" in beside
    assert "in its range" not in alone


def test_fewer_than_ten_people_are_too_few_and_not_counted_out_loud(learned, five_sizes):
    few = said(learned, five_sizes, SizeStanding(FEW, MANY))["too_few_people"]
    assert "fewer than 10" in few
    assert "30" not in few
    assert "9" not in few
    assert not FEW.shown
    assert "too_few_people" not in said(learned, five_sizes, SizeStanding(MANY, MANY))


def test_what_cannot_be_reached_is_said(size_heel):
    shallow = size_heel(3, policy=Policy(56, 40, 0))
    deep = size_heel(0, policy=Policy(120, 16, 0, 12))
    for size, code in ((shallow, "too_few_stitches"), (deep, "already_deep_enough")):
        assert code in said(geometry_alone(), [size], SizeStanding(NOBODY, NOBODY))


def test_a_neighbour_s_pull_a_split_and_feet_beyond_the_survey_are_said(learned, five_sizes):
    standing = SizeStanding(MANY, MANY, contradicting=True)
    default = defaults(learned, five_sizes).sizes[0]
    alone = replace(default.best, slow_decrease_rounds=default.best.slow_decrease_rounds + 1)
    split = Split("heel_diagonal_mm", 330.0, above=True, change=1, gain=0.043)
    small = survey_feet({"foot_length_mm": (130, 140), "foot_circumference_mm": (130, 140)})
    told = said(
        learned,
        five_sizes,
        standing,
        alone=alone,
        falls_back=True,
        split=split,
        size=replace(default.size, feet=small, yarn_weight=6),
    )
    assert (
        "Above a heel diagonal of 330 mm add one: of 100 people, 4 more"
        in told["one_heel_for_too_many"]
    )
    assert {
        "graded",
        "falls_back",
        "contradicting_reports",
        "beyond_the_survey",
        "extrapolating",
    } <= set(told)


def test_reports_as_people_usually_differ_do_not_contradict_and_torn_ones_do(worlds_, learned):
    draw = np.random.default_rng(5)
    truth = worlds_.truth({"excess_depth_cm": 1.35}, reporter_sd=0.5)
    sound = worlds_.evidence(draw, truth, 60)
    assert not contradict(learned.posterior, sound)
    torn = {**sound.columns, "fit_score": np.resize([-2.0, 2.0], 60)}
    assert contradict(
        learned.posterior, Evidence.of({name: torn[name] for name in COLUMNS}, sound.reporter)
    )
    none = {name: values[:0] for name, values in sound.columns.items()}
    assert not contradict(learned.posterior, Evidence.of(none, sound.reporter[:0]))
