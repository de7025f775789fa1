"""Reporters who give their scores the wrong way round; all are simulated."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from models.learning import flipped as module
from models.learning.calibration import calibrate
from models.learning.estimator import prior
from models.learning.evidence import COLUMNS, Evidence
from models.learning.flipped import FEWEST_SCORES, LEAST_RATIO, flipped, sign_ratios
from models.learning.latent import latent_fit
from models.learning.ordinal.reporters import Reporters

LIMITS = (-1.8, -0.85, 0.85, 1.8)


def reported(worlds, draw, truth, people: int, fewest: int = 4, most: int = 20) -> Evidence:
    """Return reports of so many people with 4 to 20 reports each, gathered by reporter."""
    who = np.repeat(np.arange(people), draw.integers(fewest, most + 1, people))
    columns = worlds.socks(draw, len(who))
    latent = worlds.matrix(columns) @ truth.vector + draw.normal(0, 1, len(who))
    latent += draw.normal(0, truth.reporter_sd, people)[who]
    columns["fit_score"] = np.searchsorted(LIMITS, latent) - 2.0
    return Evidence({name: columns[name] for name in COLUMNS}, who)


def turned(evidence: Evidence) -> Evidence:
    return Evidence({**evidence.columns, "fit_score": -evidence.score}, evidence.reporter)


def share_held(posterior, evidence: Evidence) -> float:
    """Return the share of reporters held, of those with scores enough to be judged."""
    enough = np.bincount(evidence.reporter, weights=evidence.score != 0) >= FEWEST_SCORES
    held = np.unique(evidence.reporter[flipped(posterior, evidence)])
    return len(held) / int(enough.sum())


@pytest.fixture(scope="module", params=["geometry", "learned"])
def judged(request, worlds_):
    """Return a posterior that judges, and reports of 1,000 sound people of the same world."""
    draw = np.random.default_rng(11)
    truth = worlds_.truth.drawn(draw, reporter_sd=0.55)
    learned = calibrate(worlds_.evidence(draw, truth, 600)).posterior
    posterior = prior() if request.param == "geometry" else learned
    return posterior, reported(worlds_, draw, truth, 1000), request.param


def test_none_of_1_000_sound_reporters_is_held(judged) -> None:
    posterior, evidence, _ = judged
    assert share_held(posterior, evidence) == 0


def test_most_flipped_reporters_are_held(judged) -> None:
    posterior, evidence, kind = judged
    power = share_held(posterior, turned(evidence))
    assert power > {"geometry": 0.5, "learned": 0.9}[kind]


def test_judging_some_reporters_at_a_time_finds_the_same(judged, monkeypatch) -> None:
    posterior, evidence, _ = judged
    wrong = turned(evidence)
    whole = flipped(posterior, wrong)
    monkeypatch.setattr(module, "_AT_ONCE", 700)
    assert flipped(posterior, wrong).tolist() == whole.tolist()


def test_the_ratio_is_that_of_the_integrals_over_the_offset(worlds) -> None:
    draw = np.random.default_rng(12)
    truth = worlds.truth.drawn(draw, reporter_sd=0.5)
    learned = calibrate(worlds.evidence(draw, truth, 400)).posterior
    # What is not known of the terms is left out of this check.
    posterior = replace(learned, covariance=np.zeros_like(learned.covariance))
    evidence = reported(worlds, draw, truth, 3, 6, 6)
    gathered = Reporters.from_sorted(evidence.reporter)
    ratios = sign_ratios(posterior, evidence.columns, evidence.score, gathered)
    offset = norm(0, np.sqrt(posterior.noise_variance - 1))
    fit = latent_fit(posterior, evidence.columns)
    ends = np.array([-np.inf, *fit.thresholds, np.inf])

    def likelihood(scores, rows) -> float:
        def at(value: float) -> float:
            sd, place = fit.noise_sd[rows], scores.astype(int) + 2
            level = fit.level[rows] + value
            sound = norm.cdf((ends[place + 1] - level) / sd) - norm.cdf((ends[place] - level) / sd)
            gross = posterior.contamination
            return float(np.prod((1 - gross) * sound + gross / 5) * offset.pdf(value))

        return quad(at, -6, 6)[0]

    for person, ratio in enumerate(ratios):
        rows = evidence.reporter == person
        scores = evidence.score[rows]
        exact = np.log(likelihood(-scores, rows) / likelihood(scores, rows))
        assert ratio == pytest.approx(exact, rel=0.03, abs=0.15)


def test_the_limit_is_that_of_markov_s_inequality() -> None:
    assert np.exp(-LEAST_RATIO) == pytest.approx(1e-4)


def test_few_scores_are_not_judged(worlds) -> None:
    draw = np.random.default_rng(13)
    truth = worlds.truth.drawn(draw)
    evidence = turned(reported(worlds, draw, truth, 300, FEWEST_SCORES - 1, FEWEST_SCORES - 1))
    assert not flipped(prior(), evidence).any()
