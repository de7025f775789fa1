"""What the parameters of the estimator state, as the search takes it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from models.learning.ordinal.problem import Beliefs, Prior
from models.learning.ordinal.row_blocks import RowBlocks
from models.learning.ordinal.thresholds import starting_log_gaps

if TYPE_CHECKING:
    from models.learning.ordinal.regression import OrdinalRegression


def stated_prior(model: OrdinalRegression, rows: RowBlocks) -> Prior:
    """Return the belief about coefficients and log gaps of a model that these rows are given to."""
    p, gaps = rows.n_coefficients - 1, len(rows.counts) - 2
    block = np.full(p, -1) if model.prior_block is None else np.asarray(model.prior_block)
    stated = model.log_gap_mean
    gap_mean = starting_log_gaps(rows.counts) if stated is None else stated
    mean = [[model.intercept_mean], np.broadcast_to(model.prior_mean, p)]
    sd = [[model.intercept_scale], np.broadcast_to(model.prior_scale, p)]
    return Prior(
        np.concatenate([*mean, np.broadcast_to(np.asarray(gap_mean), gaps)]),
        np.concatenate([*sd, np.full(gaps, model.log_gap_scale)]),
        np.concatenate([[-1], block, np.full(gaps, -1)]).astype(np.int64),
        np.broadcast_to(model.block_spread, int(block.max(initial=-1)) + 1),
    )


def stated_beliefs(model: OrdinalRegression, *, offsets: bool) -> Beliefs:
    """Return the belief about reporters and gross errors; without `offsets` nobody has one."""
    return Beliefs(
        model.offset_sd if offsets else 0.0,
        model.learn_offset_sd,
        model.offset_log_sd_spread,
        model.stray_share,
        model.stray_reporters,
        model.contamination,
        model.contamination_reports,
    )
