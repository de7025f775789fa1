"""Reporters whose scores were given the wrong way round: deep for shallow.

A reporter's scores are held against the same scores with the other sign: how much likelier are
they so, the reporter's own offset integrated out by Laplace's method? What a calibration does not
know is allowed for: what it leaves open of the level of all of a reporter's socks widens the
offset, what it leaves open between them widens the noise.

References
----------
A likelihood ratio exceeds k with a chance of at most 1 / k where its denominator is true (Markov's
inequality): the limit below is at the same time the largest share of sound reporters held.

"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from models.learning.estimator import LINK, SCORES, Posterior
from models.learning.evidence import Column, Evidence
from models.learning.evidence_blocks import block_ends
from models.learning.latent import LatentFit, latent_fit
from models.learning.ordinal.likelihood import Noise
from models.learning.ordinal.links import LINKS
from models.learning.ordinal.offsets import offset_modes
from models.learning.ordinal.problem import Rows
from models.learning.ordinal.reporters import Reporters
from models.learning.terms import COEFFICIENT_NAMES

LEAST_RATIO = float(np.log(10_000))
"""Log likelihood ratio for the opposite sign from which a reporter is held: by chance not one
sound reporter in 10,000."""

FEWEST_SCORES = 4
"""Scores other than 0 of a reporter before they are judged; 0 says nothing of the sign."""

_CLOSE = 1e-8
_AT_ONCE = 50_000


def flipped(posterior: Posterior, evidence: Evidence) -> NDArray[np.bool_]:
    """Return which rows (n,) are of reporters whose scores have the wrong sign."""
    other_than_0 = np.bincount(evidence.reporter, weights=evidence.score != 0)
    held = np.zeros(evidence.reports, dtype=bool)
    judged = np.flatnonzero((other_than_0 >= FEWEST_SCORES)[evidence.reporter])
    order = judged[np.argsort(evidence.reporter[judged], kind="stable")]
    for rows in _some_at_a_time(order, evidence.reporter[order]):
        columns = {name: values[rows] for name, values in evidence.columns.items()}
        gathered = Reporters.from_sorted(evidence.reporter[rows])
        ratios = sign_ratios(posterior, columns, evidence.score[rows], gathered)
        held[rows] = (ratios > LEAST_RATIO)[gathered.of_row]
    return held


def _some_at_a_time(
    rows: NDArray[np.int64], reporter: NDArray[np.int64]
) -> Iterator[NDArray[np.int64]]:
    """Yield the rows of some reporters after those of others: each is judged alone."""
    if len(rows):
        _, counts = np.unique(reporter, return_counts=True)
        ends = np.cumsum(counts)[block_ends(counts, _AT_ONCE) - 1]
        yield from np.split(rows, ends[:-1])


def sign_ratios(
    posterior: Posterior, columns: Mapping[str, Column], score: Column, reporters: Reporters
) -> Column:
    """Return the log likelihood ratio (R,) of the opposite sign to the one given, by reporter.

    Rows of one reporter are adjacent, as `reporters` says.
    """
    fit = latent_fit(posterior, columns)
    level_variance, own_variance = _unknown(posterior, fit, reporters)
    precision = 1 / (posterior.noise_variance - 1 + level_variance)
    noise = Noise(
        LINKS[LINK], posterior.contamination, np.sqrt(np.square(fit.noise_sd) + own_variance)
    )
    ones = np.ones(len(score))
    as_given = (score - SCORES[0]).astype(np.int64)
    likelihoods = [
        _log_likelihood(Rows(fit.terms, category, ones, noise, reporters, 5), fit, precision)
        for category in (as_given, len(SCORES) - 1 - as_given)
    ]
    return likelihoods[1] - likelihoods[0]


def _unknown(posterior: Posterior, fit: LatentFit, reporters: Reporters) -> tuple[Column, Column]:
    """Return what the posterior leaves open: of each reporter's mean level (R,), of rows (n,)."""
    p = len(COEFFICIENT_NAMES)
    covariance = posterior.covariance[:p, :p]
    counts = reporters.total(np.ones(len(fit.level)))
    means = reporters.totals(fit.terms) / counts[:, None]
    apart = fit.terms - means[reporters.of_row]
    level, own = (np.sum(terms @ covariance * terms, axis=1) for terms in (means, apart))
    return level, own


def _log_likelihood(rows: Rows, fit: LatentFit, precision: Column) -> Column:
    """Return the log likelihood (R,) of each reporter's scores, the offset integrated out."""
    start = np.zeros(rows.reporters.count)
    state, at = offset_modes(rows, fit.thresholds, fit.level, start, precision, _CLOSE)
    penalty = precision * np.square(state.mode) + np.log(state.total / precision)
    return rows.reporters.total(at.terms.log_chance) - 0.5 * penalty
