"""Blocked algebra over reporter offsets: the curvature matrix has the shape of an arrow.

Offsets of different reporters never meet, so their block is diagonal. Eliminating it leaves a
small dense matrix over coefficients and log gaps; time and memory grow linearly with the
reporters, and nothing of size reporter x reporter is ever formed.

References
----------
Bates, D. and DebRoy, S. (2004). Linear mixed models and penalized least squares. J. Multivariate
Analysis 91, 1-17 (from memory): the Schur complement of one grouping factor.

"""

from __future__ import annotations

import numpy as np
import scipy  # loads scipy.linalg when it is first used; `from scipy.linalg import` does at once

from models.learning.ordinal.arrays import Floats
from models.learning.ordinal.information import RowCurvature
from models.learning.ordinal.problem import Rows


def curvature_matrix(rows: Rows, rows_curvature: RowCurvature, slopes: Floats) -> Floats:
    """Return the curvature over coefficients and log gaps, offsets held still, (P, P).

    `slopes` are the derivatives of the thresholds by the log gaps, (K-1, K-2).
    """
    beside = rows_curvature.position_threshold
    weighted = -beside.sum(axis=1)
    p, size = rows.n_coefficients, rows.n_coefficients + slopes.shape[1]
    matrix = np.empty((size, size))
    matrix[:p, :p] = rows.design.T @ (weighted[:, None] * rows.design)
    matrix[:p, p:] = (rows.design.T @ beside) @ slopes
    matrix[p:, :p] = matrix[:p, p:].T
    matrix[p:, p:] = slopes.T @ rows_curvature.threshold_threshold() @ slopes
    return matrix


def reporter_border(rows: Rows, rows_curvature: RowCurvature, slopes: Floats) -> Floats:
    """Return the block between each reporter's offset and the other parameters, (R, P)."""
    beside = rows_curvature.position_threshold
    weighted = -beside.sum(axis=1)
    by_coefficient = rows.reporters.totals(weighted[:, None] * rows.design)
    return np.hstack([by_coefficient, rows.reporters.totals(beside) @ slopes])


def eliminate_offsets(matrix: Floats, border: Floats, total: Floats) -> Floats:
    """Return the Schur complement after eliminating offsets of precision `total` (R,)."""
    return np.asarray(matrix - border.T @ (border / total[:, None]), dtype=np.float64)


def solve_positive(matrix: Floats, right: Floats) -> Floats:
    """Solve a symmetric positive system, leaning on a tiny ridge when it is nearly singular.

    Raises
    ------
    ValueError
        If the matrix is not positive even so: the data leave a parameter without a prior free.

    """
    scale = np.sqrt(np.maximum(np.diag(matrix), 1e-300))
    scaled = matrix / np.outer(scale, scale)
    for ridge in (0.0, 1e-10, 1e-6, 1e-3):
        try:
            factor = scipy.linalg.cho_factor(scaled + ridge * np.eye(len(scale)))
        except np.linalg.LinAlgError:
            continue
        answer = scipy.linalg.cho_solve(factor, (right.T / scale).T)
        return np.asarray((answer.T / scale).T, dtype=np.float64)
    raise ValueError("the curvature is not positive: give every parameter a finite prior sd")
