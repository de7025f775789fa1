"""Stated against achieved: clean later reports raise no alarm, shifted ones do. All simulated."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from models.learning.calibration import FEWEST_REPORTERS_SHOWN, calibrate
from models.learning.drift import BANDS, bands, foreseen
from models.learning.evidence import COLUMNS, Evidence
from models.learning.predictive import score_chances

LIMITS = (-1.8, -0.85, 0.85, 1.8)


def reported(worlds, draw, truth, number: int, people: int, moved: float = 0.0) -> Evidence:
    """Return reports by so many people, whose latent fits are all moved."""
    columns, who = worlds.socks(draw, number), draw.integers(0, people, number)
    latent = worlds.matrix(columns) @ truth.vector + draw.normal(0, 1, number) + moved
    latent += draw.normal(0, truth.reporter_sd, people)[who]
    columns["fit_score"] = np.searchsorted(LIMITS, latent) - 2.0
    return Evidence({name: columns[name] for name in COLUMNS}, who)


@pytest.fixture(scope="module")
def calibrated(worlds_):
    """Return ten worlds, each with the posterior of a calibration of 1,000 reports from it."""
    draw = np.random.default_rng(21)
    truths = [worlds_.truth.drawn(draw, reporter_sd=0.5) for _ in range(10)]
    return [(t, calibrate(worlds_.evidence(draw, t, 1000)).posterior) for t in truths]


def test_none_of_100_clean_resamples_raises_an_alarm(worlds, calibrated) -> None:
    draw = np.random.default_rng(22)
    shifts = [
        foreseen(posterior, reported(worlds, draw, truth, 100, 20))[1]
        for truth, posterior in calibrated
        for _ in range(10)
    ]
    assert len(shifts) == 100
    assert not any(one.drifted for one in shifts)
    standardised = [one.mean / one.standard_error for one in shifts]
    assert 0.7 < np.std(standardised) < 1.3


@pytest.mark.parametrize("moved", [-1.0, 1.0])
def test_a_shift_of_one_sd_in_100_reports_of_20_people_is_seen(
    worlds, calibrated, moved: float
) -> None:
    draw = np.random.default_rng(23)
    shifts = [
        foreseen(posterior, reported(worlds, draw, truth, 100, 20, moved))[1]
        for truth, posterior in calibrated
        for _ in range(4)
    ]
    assert np.mean([one.drifted for one in shifts]) >= 0.9
    assert all(np.sign(one.mean) == np.sign(moved) for one in shifts)


def test_the_standard_error_is_that_of_simulated_sums(worlds, calibrated) -> None:
    truth, learned = calibrated[0]
    # What the calibration does not know is left out of this check.
    posterior = replace(learned, covariance=np.zeros_like(learned.covariance))
    draw, sums, stated = np.random.default_rng(24), [], []
    believed = worlds.truth(
        dict(zip(truth.coefficients, posterior.mean, strict=False)),
        reporter_sd=float(np.sqrt(posterior.noise_variance - 1)),
    )
    for _ in range(300):
        shift = foreseen(posterior, reported(worlds, draw, believed, 100, 10))[1]
        sums.append(shift.mean)
        stated.append(shift.standard_error)
    assert np.mean(stated) == pytest.approx(np.std(sums), rel=0.12)


def test_one_reporter_who_scores_high_is_no_drift(worlds, calibrated) -> None:
    draw = np.random.default_rng(25)
    truth, posterior = calibrated[1]
    many = reported(worlds, draw, truth, 100, 100)
    high = Evidence({**many.columns, "fit_score": np.minimum(many.score + 1, 2)}, many.reporter)
    alone = Evidence(high.columns, np.zeros(100, dtype=np.int64))
    assert foreseen(posterior, high)[1].drifted
    assert not foreseen(posterior, alone)[1].drifted


def test_a_calibration_that_knows_little_is_not_said_to_drift(worlds) -> None:
    draw = np.random.default_rng(26)
    truth = worlds.truth.drawn(draw, reporter_sd=0.5)
    little = calibrate(worlds.evidence(draw, truth, 12)).posterior
    much = calibrate(worlds.evidence(draw, truth, 1000)).posterior
    later = reported(worlds, draw, truth, 200, 40)
    assert foreseen(little, later)[1].standard_error > 2 * foreseen(much, later)[1].standard_error


@pytest.mark.parametrize("people", [9, 10, 14, 60])
def test_every_band_shown_is_of_ten_people_and_none_is_left_out(
    worlds, calibrated, people: int
) -> None:
    truth, posterior = calibrated[2]
    later = reported(worlds, np.random.default_rng(27), truth, 300, people)
    found = bands(score_chances(posterior, later), later)
    assert all(band.reporters >= FEWEST_REPORTERS_SHOWN for band in found)
    assert sum(band.reports for band in found) == (300 if people >= 10 else 0)
    assert [band.high for band in found[:-1]] == [band.low for band in found[1:]]
    if found:
        assert (found[0].low, found[-1].high) == (BANDS[0], BANDS[-1])


def test_what_was_stated_is_achieved_where_nothing_drifts(worlds, calibrated) -> None:
    draw = np.random.default_rng(28)
    for truth, posterior in calibrated[3:6]:
        later = reported(worlds, draw, truth, 2000, 200)
        for band in bands(score_chances(posterior, later), later):
            assert band.achieved == pytest.approx(band.stated, abs=4 * 0.5 / band.reports**0.5)
            assert band.low <= band.stated <= band.high
