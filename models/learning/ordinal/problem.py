"""What one fit is given: rows, who sent them, and what is believed beforehand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from models.learning.ordinal.arrays import Floats, Integers
from models.learning.ordinal.likelihood import Noise
from models.learning.ordinal.reporters import Reporters


@dataclass(frozen=True)
class Rows:
    """Design (n, p) with the intercept first, category 0..K-1, weight, noise and reporters."""

    design: Floats
    category: Integers
    weight: Floats
    noise: Noise
    reporters: Reporters
    n_categories: int

    @property
    def n_coefficients(self) -> int:
        """Number of columns of the design."""
        return int(self.design.shape[1])

    def every(self, step: int, before: int = 0) -> Rows:
        """Return the rows of every `step`-th reporter; `before` reporters stand before these."""
        reporters, kept = self.reporters.every(step, before)
        noise = replace(self.noise, sd=self.noise.sd[kept])
        return Rows(
            self.design[kept],
            self.category[kept],
            self.weight[kept],
            noise,
            reporters,
            self.n_categories,
        )

    @classmethod
    def joined(cls, parts: Sequence[Rows]) -> Rows:
        """Return the rows of several blocks, in their order, as one."""
        first = parts[0]
        return cls(
            np.concatenate([part.design for part in parts]),
            np.concatenate([part.category for part in parts]),
            np.concatenate([part.weight for part in parts]),
            replace(first.noise, sd=np.concatenate([part.noise.sd for part in parts])),
            Reporters.joined([part.reporters for part in parts]),
            first.n_categories,
        )

    def with_contamination(self, share: float) -> Rows:
        """Return the rows under another share of gross errors."""
        return replace(self, noise=replace(self.noise, contamination=share))


@dataclass(frozen=True)
class Prior:
    """Gaussian belief about the coefficients followed by the log gaps, shape (P,).

    Attributes
    ----------
    mean, sd : arrays (P,)
        `sd` may be infinite, which leaves a parameter to the data alone.
    block : integer array (P,)
        Parameters that share a learned scale; -1 for those whose `sd` is final.
    block_spread : array (n_blocks,)
        Sd of the logarithm of each block's scale around the stated `sd`.

    """

    mean: Floats
    sd: Floats
    block: Integers
    block_spread: Floats

    @property
    def n_blocks(self) -> int:
        """Number of blocks with a learned scale."""
        return int(self.block.max(initial=-1)) + 1

    def precision(self, log_scales: Floats) -> Floats:
        """Return 1/sd^2 of each parameter when the blocks have these log scales."""
        # One more entry, zero, is what block -1 reads.
        stretch = np.append(log_scales, 0.0)[self.block]
        return np.asarray(1.0 / np.square(self.sd * np.exp(stretch)), dtype=np.float64)


@dataclass(frozen=True)
class Beliefs:
    """What is believed about how far reporters differ and how often a report is grossly wrong.

    Attributes
    ----------
    offset_sd : float
        Starting sd of the offsets in latent units; zero for none.
    learn_offset_sd : bool
        Whether the sd is learned by marginal likelihood.
    offset_log_sd_spread : float
        Sd of the log-normal belief around `offset_sd`; infinite for none.
    stray_share : float
        Expected share of reporters who do not answer like the others; zero for none.
    stray_reporters : float
        Number of reporters that the belief about that share is worth.
    contamination : float
        Share of gross errors, or its prior mean when learned.
    contamination_reports : float
        Number of reports that the belief about the share is worth; infinite fixes the share.

    """

    offset_sd: float
    learn_offset_sd: bool
    offset_log_sd_spread: float
    stray_share: float
    stray_reporters: float
    contamination: float
    contamination_reports: float
