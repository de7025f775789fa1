"""A personal answer: the population's, moved by what the asker's own reports say of the asker.

Somebody may score the same heel higher than others do, by taste, by habit or by a way of scoring;
from scores alone nobody can tell which, so this stands beside the population's answer and never in
its place. All of it is one offset with the prior that the calibration found for new reporters; its
mode is found as in calibrating, with the coefficients and thresholds held.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from models.learning.calibration import Calibration
from models.learning.candidates import Candidate, curve_of
from models.learning.decide import Figures, decide
from models.learning.design import design
from models.learning.estimator import LINK, SCORES, Posterior, row_noise_sd
from models.learning.evidence import Evidence
from models.learning.ordinal.likelihood import Noise
from models.learning.ordinal.links import LINKS
from models.learning.ordinal.offsets import offset_modes
from models.learning.ordinal.problem import Rows
from models.learning.ordinal.reporters import Reporters
from models.learning.ordinal.thresholds import thresholds_from_gaps
from models.learning.question import Question, prepared
from models.learning.terms import COEFFICIENT_NAMES, INTERCEPT

_INTERCEPT = COEFFICIENT_NAMES.index(INTERCEPT)
_TOLERANCE = 1e-9


@dataclass(frozen=True)
class OwnOffset:
    """How much higher than others, in latent fit, somebody scores: mean and variance."""

    mean: float
    variance: float


@dataclass(frozen=True)
class PersonalAnswer:
    """What suits the asker best, going by that many reports of the asker's own."""

    best: Candidate
    reports: int


def personal_answer(
    calibration: Calibration, question: Question, own: Evidence
) -> PersonalAnswer | None:
    """Return the answer for somebody with these reports, or None where there are none."""
    if not own.reports:
        return None
    figures = _moved(calibration.figures, own_offset(calibration.posterior, own))
    asked = prepared(question)
    decided = decide(figures, asked.sock.terms, asked.steps_cm, asked.sock.ideal_sd)
    curve = curve_of(asked, decided)
    return PersonalAnswer(max(curve, key=lambda one: one.chance_just_right), own.reports)


def own_offset(posterior: Posterior, own: Evidence) -> OwnOffset:
    """Return the offset of one reporter whose reports these all are, by Laplace's method."""
    socks, p = design(own.columns), len(COEFFICIENT_NAMES)
    noise = Noise(LINKS[LINK], posterior.contamination, row_noise_sd(socks.ideal_sd))
    rows = Rows(
        socks.terms,
        np.searchsorted(SCORES, own.score),
        np.ones(own.reports),
        noise,
        Reporters.from_sorted(np.zeros(own.reports, dtype=np.int64)),
        len(SCORES),
    )
    state, _ = offset_modes(
        rows,
        thresholds_from_gaps(posterior.mean[p:]),
        rows.design @ posterior.mean[:p],
        np.zeros(1),
        np.array([1 / posterior.reporter_variance]),
        _TOLERANCE,
    )
    return OwnOffset(float(state.mode[0]), float(1 / state.total[0]))


def _moved(figures: Figures, offset: OwnOffset) -> Figures:
    """Return the figures that answer for one whose offset is known so well."""
    mean = figures.mean.copy()
    mean[_INTERCEPT] += offset.mean
    return replace(figures, mean=mean, noise_variance=1 + offset.variance)
