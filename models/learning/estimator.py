"""The estimator: an ordered probit with reporter offsets whose prior is the geometry.

The score is a latent fit cut into five. What the reports do not say stays as the geometry has it
(`models.learning.terms`); scales of blocks of terms, of reporters' offsets and of gross errors are
learned by marginal likelihood (`models.learning.ordinal`).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from math import exp
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from models.learning.evidence import Column, Evidence
from models.learning.evidence_blocks import EvidenceBlocks
from models.learning.factor import Factor, alone
from models.learning.habit import habits
from models.learning.ordinal.blocks import Blocks
from models.learning.ordinal.problem import Rows
from models.learning.socks import Socks, gathered_socks
from models.learning.terms import (
    COEFFICIENT_NAMES,
    EXCESS,
    HABIT,
    LEARNED_BLOCKS,
    PRIOR_MEANS,
    PRIOR_SDS,
    PRODUCTS,
    SLOPE,
    TERM_NAMES,
    block_numbers,
)
from models.learning.weights import reporter_weights
from models.learning.wider import Wider, averaged_beside

if TYPE_CHECKING:
    from models.learning.ordinal.regression import OrdinalRegression

NAME = "ordered probit with reporter offsets, prior at the geometry"

SCORES = (-2, -1, 0, 1, 2)

LINK: Final = "probit"

OFFSET_SD, OFFSET_LOG_SPREAD = 0.55, 0.25
"""Sd of reporters' offsets (latent), and the sd of the log of how far that may be off."""

_STRAY_SHARE, _STRAY_REPORTERS = 0.06, 10.0
_GROSS_SHARE, _GROSS_REPORTS = 0.02, 60.0
_LINEAR_VARIANCE = 0.5
"""Variance (cm^2) of the linear part of what depth is needed beyond the geometry's."""

_EXCESS, _HABIT = TERM_NAMES.index(EXCESS), TERM_NAMES.index(HABIT)
_COEFFICIENTS = len(COEFFICIENT_NAMES)


@dataclass(frozen=True)
class Posterior:
    """What is believed of the terms, in latent units per unit of each.

    `mean` has one entry a term of `TERM_NAMES`, `covariance` is terms x terms. `offset_sd` is that
    of reporters' offsets, `habit_variance` what the unknown habit of who asks adds (both latent),
    `misfit_variance` (cm^2) that of needs which the terms cannot express, `contamination` the share
    of gross errors among the reports.
    """

    mean: Column
    covariance: Column
    offset_sd: float
    habit_variance: float
    misfit_variance: float
    contamination: float

    @property
    def reporter_variance(self) -> float:
        """Variance of the latent score over knitters of one sock: offsets and habits."""
        return self.offset_sd**2 + self.habit_variance

    @property
    def noise_variance(self) -> float:
        """Variance of the latent score of one sock over knitters; 1 of it is the sock's own."""
        return 1 + self.reporter_variance


def prior(wider: Wider | None = None) -> Posterior:
    """Return what is believed before the first report: the geometry, and a wider pool if any."""
    # The log sd of the offsets is normal, so their expected variance is that of a log-normal.
    offset_sd = OFFSET_SD * exp(OFFSET_LOG_SPREAD**2)
    misfit = _misfit_variance(1.0, SLOPE**2 + float(PRIOR_SDS[_EXCESS]) ** 2)
    mean, covariance = averaged_beside(wider, PRIOR_MEANS, np.diag(PRIOR_SDS**2))
    return Posterior(mean, covariance, offset_sd, 0.0, misfit, _GROSS_SHARE)


@dataclass(frozen=True)
class Offsets:
    """How much higher than others each reporter scores the same heel, in sds of such offsets.

    `doubt` is the chance that a reporter answers unlike all others. All three have one entry a
    reporter, (R,), in the order of `reporter`.
    """

    reporter: NDArray[np.int64]
    offset: Column
    doubt: Column


@dataclass(frozen=True)
class Learned:
    """What reports taught: of socks in general, of each reporter, and what they say by themselves.

    `alone` knows neither the geometry nor a wider pool, so it can be shared and counts nothing
    twice.
    """

    posterior: Posterior
    offsets: Offsets
    alone: Factor


def fit(evidence: Evidence, wider: Wider | None = None) -> Posterior:
    """Return what is believed after the evidence; the same rows give the same bits."""
    return learn(evidence, wider).posterior


def learn(evidence: Evidence, wider: Wider | None = None) -> Learned:
    """Return what the evidence taught, beside a wider pool if any."""
    return learn_blocks(EvidenceBlocks.whole(evidence), wider)


def learn_blocks(evidence: EvidenceBlocks, wider: Wider | None = None) -> Learned:
    """Return what evidence in blocks taught: what all of it as one would, but for rounding.

    The pool has no part in the search: it comes in where beliefs are averaged, so without one all
    is to the bit as if there were no such thing.
    """
    if evidence.reports == 0:
        nothing = np.zeros(len(TERM_NAMES))
        nobody = Offsets(evidence.numbers, np.empty(0), np.empty(0))
        return Learned(prior(wider), nobody, Factor(nothing, nothing))
    model = regression()
    rows, habit_variance = _rows(evidence, model)
    found = model.fit_blocks(rows, evidence.numbers).posterior_
    posterior = _posterior(model, habit_variance, wider)
    return Learned(
        posterior,
        Offsets(evidence.numbers, model.offsets_ / posterior.offset_sd, model.doubts_),
        alone(found.mean, found.covariance, PRIOR_MEANS, _prior_sd(model)),
    )


def _rows(evidence: EvidenceBlocks, model: OrdinalRegression) -> tuple[Blocks[Rows], float]:
    """Return the rows of the regression in blocks, and the variance of habits."""
    weight = evidence.split(reporter_weights(evidence.counts))
    socks = evidence.blocks.mapped(gathered_socks, weight)
    habit = habits(socks)
    return socks.mapped(partial(_with_habit, model=model), habit.of_reporter), habit.variance


def _with_habit(socks: Socks, habit: Column, model: OrdinalRegression) -> Rows:
    who = socks.reporters.of_row
    noise_sd = row_noise_sd(socks.ideal_sd)
    columns = [socks.excess, habit[who], socks.columns, noise_sd, socks.weight]
    category = (socks.score - SCORES[0]).astype(np.int64)
    return model.rows(np.column_stack(columns), category, who)


def row_noise_sd(ideal_sd: Any) -> Any:
    """Return the sd of one sock's latent noise where the ideal depth has an sd (cm), else 1."""
    return np.sqrt(1 + (SLOPE * ideal_sd) ** 2)


def regression() -> OrdinalRegression:
    """Return the regression with all that is believed before any report.

    How far needs depart from the geometry is left wide here (`models.learning.beliefs`).
    """
    # It brings all of scikit-learn, which a server that only answers does without.
    from models.learning.ordinal.regression import OrdinalRegression  # noqa: PLC0415

    numbers = block_numbers()
    return OrdinalRegression(
        classes=SCORES,
        link=LINK,
        prior_mean=PRIOR_MEANS[1:_COEFFICIENTS],
        prior_scale=PRIOR_SDS[1:_COEFFICIENTS],
        prior_block=np.concatenate([[-1, -1], numbers]),
        block_spread=np.array([block.log_spread for block in LEARNED_BLOCKS]),
        intercept_scale=float(PRIOR_SDS[0]),
        log_gap_mean=PRIOR_MEANS[_COEFFICIENTS:],
        log_gap_scale=float(PRIOR_SDS[-1]),
        contamination=_GROSS_SHARE,
        contamination_reports=_GROSS_REPORTS,
        offset_sd=OFFSET_SD,
        offset_log_sd_spread=OFFSET_LOG_SPREAD,
        average_offset_sd=True,
        stray_share=_STRAY_SHARE,
        stray_reporters=_STRAY_REPORTERS,
        tol=1e-3,
    )


def _prior_sd(model: OrdinalRegression) -> Column:
    """Return the prior sd (terms,) that a regression ended with, scales of blocks learned."""
    numbers = block_numbers()
    sd = PRIOR_SDS.copy()
    columns = slice(_COEFFICIENTS - len(numbers), _COEFFICIENTS)
    sd[columns] *= np.where(numbers < 0, 1.0, model.block_scales_[numbers])
    return sd


def _posterior(model: OrdinalRegression, habit_variance: float, wider: Wider | None) -> Posterior:
    found = model.posterior_
    mean, covariance = averaged_beside(wider, found.mean, found.covariance)
    squares = mean**2 + np.diag(covariance)
    scale = float(model.block_scales_[LEARNED_BLOCKS.index(PRODUCTS)])
    return Posterior(
        mean,
        covariance,
        float(found.offset_sd),
        habit_variance * float(squares[_HABIT]),
        _misfit_variance(scale, float(squares[_EXCESS])),
        float(model.contamination_),
    )


def _misfit_variance(scale: float, squared_slope: float) -> float:
    """Return the variance (cm^2) of needs that products of measures cannot express.

    Each order of the needed depth is taken to be to the one before as that is to the one before
    it, so the next order's variance is that of the products squared over the linear one's.
    """
    products = len(PRODUCTS.names) * (PRODUCTS.sd * scale) ** 2 / squared_slope
    return products**2 / _LINEAR_VARIANCE
