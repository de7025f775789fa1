"""Where a posterior places socks on the latent scale, for whole columns of reports."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from models.learning.design import design
from models.learning.estimator import Posterior, row_noise_sd
from models.learning.evidence import Column
from models.learning.ordinal.thresholds import thresholds_from_gaps
from models.learning.terms import COEFFICIENT_NAMES


@dataclass(frozen=True)
class LatentFit:
    """Latent fits of n socks at the posterior's mean, habits and offsets aside.

    `terms` (n, p) are those of `terms.COEFFICIENT_NAMES`, `level` (n,) is the expected latent fit,
    `noise_sd` (n,) that of one sock, `thresholds` (4,) cut the scale into scores.
    """

    terms: Column
    level: Column
    noise_sd: Column
    thresholds: Column


def latent_fit(posterior: Posterior, columns: Mapping[str, Column]) -> LatentFit:
    """Return the latent fits of evidence columns; their scores are not looked at."""
    socks = design(columns)
    terms, p = socks.terms, len(COEFFICIENT_NAMES)
    return LatentFit(
        terms,
        terms @ posterior.mean[:p],
        row_noise_sd(socks.ideal_sd),
        thresholds_from_gaps(posterior.mean[p:]),
    )
