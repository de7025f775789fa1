"""Feet are drawn from the registry, whose figures are those of a survey.

2012 US Army Anthropometric Survey, Gordon et al. 2014, NATICK/TR-15/007.
"""

import math
from functools import cache

import numpy as np
import pytest

from models.domain.errors import Invalid
from models.domain.foot import MEASUREMENT_NAMES, MEASUREMENTS, SURVEY_COUNTS
from models.domain.plausibility import doubts_about_foot, require_plausible

ADULT = {
    "foot_length_mm": 246,
    "foot_circumference_mm": 228,
    "heel_diagonal_mm": 310,
    "ankle_circumference_mm": 216,
}
SLIPS = {
    "centimetres given as millimetres": 1 / 10,
    "inches given as millimetres": 1 / 25.4,
    "inches given as centimetres": 1 / 2.54,
    "a comma one place too far right": 10,
    "centimetres given as inches": 2.54,
}


@cache
def survey_like_feet():
    """Return 2,000 feet in whole mm, always the same ones, women and men as in the survey."""
    rng = np.random.default_rng(2012)
    feet = []
    for sex, people in SURVEY_COUNTS.items():
        figures = [getattr(measurement, sex) for measurement in MEASUREMENTS]
        lower = np.eye(len(figures))
        for row, one in enumerate(figures):
            lower[row, :row] = one.correlations
        sds = np.array([one.sd for one in figures])
        covariance = (np.tril(lower) + np.tril(lower, -1).T) * np.outer(sds, sds)
        size = round(2000 * people / sum(SURVEY_COUNTS.values()))
        drawn = rng.multivariate_normal([one.mean for one in figures], covariance, size)
        feet += [dict(zip(MEASUREMENT_NAMES, map(round, row), strict=True)) for row in drawn]
    return feet


def faults_of(foot):
    """Return what makes a foot unusable."""
    try:
        require_plausible(foot)
    except Invalid as error:
        return error.faults
    return ()


def test_no_real_looking_foot_is_refused():
    feet = survey_like_feet()
    assert len(feet) == 2000
    assert [foot for foot in feet if faults_of(foot)] == []


def test_hardly_any_real_looking_foot_is_doubted():
    assert sum(bool(doubts_about_foot(foot)) for foot in survey_like_feet()) <= 4


@pytest.mark.parametrize("measured", [2, 3, 4])
@pytest.mark.parametrize("slip", SLIPS)
def test_one_slip_of_unit_is_found_in_the_right_field_and_put_right(slip, measured):
    names = MEASUREMENT_NAMES[:measured]
    right = total = 0
    for foot in survey_like_feet():
        for name in names:
            given = {other: foot[other] for other in names} | {name: foot[name] * SLIPS[slip]}
            total += 1
            faults = faults_of(given)
            right += (
                len(faults) == 1
                and faults[0].field == name
                and slip in faults[0].wanted
                and f"would be {foot[name]} mm" in faults[0].wanted
            )
    # Measured: every one of 2,000 * 2, 3 and 4 planted slips.
    assert right / total >= 0.999


@pytest.mark.parametrize("factor", [25.4, 100, 1 / 100])
def test_slips_that_have_no_name_are_refused_all_the_same(factor):
    for foot in survey_like_feet()[::20]:
        for name in MEASUREMENT_NAMES:
            assert [f.field for f in faults_of(foot | {name: foot[name] * factor})] == [name]


def test_an_inch_typed_as_a_centimetre_is_named():
    # 246 mm are 9.7 in; typed into a cm field they are read as 97 mm.
    with pytest.raises(Invalid) as raised:
        require_plausible(ADULT | {"foot_length_mm": 97})
    assert str(raised.value) == (
        "foot_length_mm is 97: looks like inches given as centimetres: 97 would be 246 mm"
    )


@pytest.mark.parametrize("name", MEASUREMENT_NAMES)
def test_centimetres_typed_into_a_millimetre_field_are_named(name):
    with pytest.raises(Invalid, match="looks like centimetres given as millimetres"):
        require_plausible(ADULT | {name: ADULT[name] / 10})


def test_a_whole_foot_in_inches_given_as_centimetres_is_usable_but_doubted_in_every_field():
    # It agrees with itself, as a very small foot would, so it is not refused.
    for foot in survey_like_feet()[::10]:
        given = {name: value / 2.54 for name, value in foot.items()}
        assert faults_of(given) == ()
        doubts = [fault for fault in doubts_about_foot(given) if "extrapolates" in fault.wanted]
        assert [fault.field for fault in doubts] == list(MEASUREMENT_NAMES)
        assert all("inches given as centimetres" in fault.wanted for fault in doubts)


@pytest.mark.parametrize("scale", [0.45, 0.6, 0.8, 1.15])
def test_small_and_large_feet_of_usual_shape_are_never_taken_for_a_slip(scale):
    for foot in survey_like_feet()[::10]:
        assert faults_of({name: value * scale for name, value in foot.items()}) == ()


def test_a_measurement_that_fits_no_other_is_doubted_with_what_the_others_suggest():
    swollen = ADULT | {"heel_diagonal_mm": 390}
    assert faults_of(swollen) == ()
    (doubt,) = (d for d in doubts_about_foot(swollen) if d.field == "heel_diagonal_mm")
    # By the survey's regression: -12.226 + 0.6979*246 + 0.3868*228 + 0.2971*216 = 311.8.
    assert doubt.wanted == "the other measurements suggest about 312 mm"


def test_a_child_s_foot_is_usable_and_called_an_extrapolation():
    doubts = doubts_about_foot({"foot_length_mm": 150, "foot_circumference_mm": 150})
    assert [doubt.field for doubt in doubts] == ["foot_length_mm", "foot_circumference_mm"]
    assert all("extrapolates" in doubt.wanted for doubt in doubts)


@pytest.mark.parametrize("name", MEASUREMENT_NAMES)
@pytest.mark.parametrize(
    "bad",
    [0, -246, math.nan, math.inf, -math.inf, 10**30, 1e308, True, "24,5", [246], 10**400],
    ids=["0", "-246", "nan", "inf", "-inf", "10**30", "1e308", "bool", "text", "list", "10**400"],
)
def test_what_is_no_length_is_refused_in_its_field_with_the_limits(name, bad):
    (fault,) = faults_of(ADULT | {name: bad})
    measurement = MEASUREMENTS[MEASUREMENT_NAMES.index(name)]
    assert (fault.field, fault.value is bad) == (name, True)
    assert f"from {measurement.low:g} to {measurement.high:g} (mm)" in str(fault)


def test_length_and_circumference_must_be_there():
    faults = faults_of({"heel_diagonal_mm": 310})
    assert [(fault.field, fault.value) for fault in faults] == [
        ("foot_length_mm", None),
        ("foot_circumference_mm", None),
    ]


def test_an_unknown_measurement_is_named_beside_the_known_ones():
    (fault,) = faults_of(ADULT | {"instep_mm": 250})
    assert fault.field == "instep_mm"
    assert all(name in fault.wanted for name in MEASUREMENT_NAMES)
