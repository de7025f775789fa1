"""The invented people of the demo have feet like those of the survey."""

from __future__ import annotations

import numpy as np
import pytest

from models.domain.foot import MEASUREMENT_NAMES, MEASUREMENTS
from models.domain.plausibility import require_plausible
from models.domain.schedule import Schedule
from models.domain.sections import COUNT_NAMES
from seed_demo import people

FEET = 6000
SHARE_OF_WOMEN = 0.7


@pytest.fixture(scope="module")
def feet() -> dict[str, np.ndarray]:
    """Return many feet drawn as the demo draws them."""
    draw = np.random.default_rng(1)
    drawn = [people._foot(draw) for _ in range(FEET)]
    return {name: np.array([foot[name] for foot in drawn]) for name in MEASUREMENT_NAMES}


@pytest.mark.parametrize("measurement", MEASUREMENTS, ids=lambda one: one.name)
def test_feet_have_the_means_and_sds_of_the_survey(feet, measurement) -> None:
    # 2012 US Army Anthropometric Survey, Gordon et al. 2014, NATICK/TR-15/007: women and men mixed
    # as the demo mixes them.
    women, men, share = measurement.women, measurement.men, SHARE_OF_WOMEN
    mean = share * women.mean + (1 - share) * men.mean
    apart = share * (1 - share) * (women.mean - men.mean) ** 2
    sd = (share * women.sd**2 + (1 - share) * men.sd**2 + apart) ** 0.5
    drawn = feet[measurement.name]
    assert drawn.mean() == pytest.approx(mean, abs=4 * sd / FEET**0.5)
    assert drawn.std() == pytest.approx(sd, rel=4 / (2 * FEET) ** 0.5)


def test_feet_have_the_ratio_of_heel_diagonal_to_circumference_of_the_survey(feet) -> None:
    ratio = feet["heel_diagonal_mm"] / feet["foot_circumference_mm"]
    # Same survey: 1.361 (sd .050) of women, 1.364 (sd .049) of men.
    assert ratio.mean() == pytest.approx(1.362, abs=0.003)
    assert ratio.std() == pytest.approx(0.049, abs=0.003)


def test_the_story_is_always_the_same() -> None:
    assert list(people.reports()) == list(people.reports())
    assert list(people.reports()) != list(people.reports(seed=1))


def test_there_are_150_reports_of_12_reporters_and_all_are_possible() -> None:
    told = list(people.reports())
    assert len(told) == people.REPORTS == 150
    assert {report["reporter"] for report in told} == set(people.REPORTERS)
    assert len(set(people.REPORTERS)) == 12
    for report in told:
        require_plausible(report["foot"])
        counts = {name: report[name] for name in COUNT_NAMES}
        assert Schedule(report["heel_stitches"], counts).closing_stitches == 16
        assert report["notes"] == "invented"


def test_the_reports_have_every_score_and_some_lack_the_heel_diagonal() -> None:
    told = list(people.reports())
    assert {report["fit_score"] for report in told} == {-2, -1, 0, 1, 2}
    lacking = sum("heel_diagonal_mm" not in report["foot"] for report in told)
    assert 0.2 < lacking / len(told) < 0.4


def test_the_demo_says_that_it_is_invented() -> None:
    assert "Invented" in people.GROUP
    assert "Invented" in people.STEWARD
    assert "nobody in it exists" in (people.__doc__ or "")
