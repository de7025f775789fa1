"""Ordinal regression with a Gaussian prior, gross errors and reporter offsets.

References
----------
McCullagh, P. (1980). Regression models for ordinal data. JRSS B 42, 109-142 (from memory).

"""

from __future__ import annotations

from typing import Any, Literal, Self

import numpy as np
from numpy.typing import ArrayLike
from sklearn.base import BaseEstimator, ClassifierMixin
from sklearn.utils.multiclass import check_classification_targets
from sklearn.utils.validation import check_is_fitted, validate_data

from models.learning.ordinal.arrays import Floats, Integers
from models.learning.ordinal.arrow import solve_positive
from models.learning.ordinal.blocks import Blocks, InMemory
from models.learning.ordinal.laplace import Point, Search, expected_offset_sd
from models.learning.ordinal.links import LINKS
from models.learning.ordinal.posterior import LaplacePosterior
from models.learning.ordinal.preparation import (
    Shape,
    gathered,
    numbered,
    per_row,
    rows_in_order,
    started,
    weights,
)
from models.learning.ordinal.problem import Rows
from models.learning.ordinal.row_blocks import RowBlocks
from models.learning.ordinal.scales import Scales
from models.learning.ordinal.stated import stated_beliefs, stated_prior


class OrdinalRegression(ClassifierMixin, BaseEstimator):  # type: ignore[misc]
    """Cumulative-link regression for ordered categories.

    `P(y <= j) = F((threshold_j - intercept - x'coef - offset) / noise_sd)`: a positive
    coefficient moves towards higher categories (McCullagh's sign; some authors print the other).

    Parameters
    ----------
    classes : None or array (K,)
        All categories in order, when some may not occur; None takes those seen, sorted.
    link : {"probit", "logit"}
        Noise distribution.
    prior_mean, prior_scale : float or array (p,)
        Gaussian prior of the coefficients, latent units; an infinite scale means no prior.
    prior_block : None or integer array (p,)
        Coefficients with the same number (from 0) share a scale learned by marginal
        likelihood around `prior_scale`; -1 keeps the stated scale.
    block_spread : float or array (n_blocks,)
        Sd of the log of each learned scale.
    intercept_mean, intercept_scale : float
        Gaussian prior of the intercept.
    log_gap_mean : None or array (K-2,)
        Prior mean of the log gaps between thresholds; None starts from the category counts.
    log_gap_scale : float
        Prior sd of the log gaps.
    contamination : float
        Share of gross errors, each category equally likely.
    contamination_reports : float
        Number of reports that the belief about this share is worth; infinite fixes the share.
    offset_sd : float
        Sd of reporter offsets (starting value when learned); zero for none.
    learn_offset_sd : bool
        Whether to learn it by marginal likelihood.
    offset_log_sd_spread : float
        Sd of the log-normal prior around `offset_sd`.
    average_offset_sd : bool
        Predict with the offsets' expected variance rather than the one of most evidence.
    stray_share : float
        Expected share of reporters who answer unlike all others; zero trusts everyone alike.
    stray_reporters : float
        Number of reporters that this belief is worth.
    curvature : {"expected", "observed"}
        Information used for the covariance.
    tol, max_iter : float, int
        Largest change of any parameter in the last pass, and the most passes.

    Attributes
    ----------
    classes_ : array (K,)
    coef_ : array (p,)
    intercept_ : float
    thresholds_ : array (K-1,)
        With the intercept taken off, as McCullagh writes them.
    posterior_ : LaplacePosterior
    offsets_, offset_variances_ : arrays (R,)
        Mode and variance of each reporter's offset, in the order of `reporters_`.
    reporters_ : array (R,)
    doubts_ : array (R,)
        Chance that each reporter answers unlike all others.
    block_scales_ : array (n_blocks,)
    contamination_ : float
    log_likelihood_ : float
        Laplace marginal log likelihood, offsets integrated out.
    n_iter_ : int

    """

    def __init__(  # noqa: PLR0913
        self,
        *,
        classes: ArrayLike | None = None,
        link: Literal["probit", "logit"] = "probit",
        prior_mean: ArrayLike = 0.0,
        prior_scale: ArrayLike = 10.0,
        prior_block: ArrayLike | None = None,
        block_spread: ArrayLike = 0.5,
        intercept_mean: float = 0.0,
        intercept_scale: float = 10.0,
        log_gap_mean: ArrayLike | None = None,
        log_gap_scale: float = 3.0,
        contamination: float = 0.0,
        contamination_reports: float = float("inf"),
        offset_sd: float = 0.0,
        learn_offset_sd: bool = True,
        offset_log_sd_spread: float = float("inf"),
        average_offset_sd: bool = False,
        stray_share: float = 0.0,
        stray_reporters: float = 30.0,
        curvature: Literal["expected", "observed"] = "expected",
        tol: float = 1e-6,
        max_iter: int = 200,
    ) -> None:
        self.classes = classes
        self.link = link
        self.prior_mean = prior_mean
        self.prior_scale = prior_scale
        self.prior_block = prior_block
        self.block_spread = block_spread
        self.intercept_mean = intercept_mean
        self.intercept_scale = intercept_scale
        self.log_gap_mean = log_gap_mean
        self.log_gap_scale = log_gap_scale
        self.contamination = contamination
        self.contamination_reports = contamination_reports
        self.offset_sd = offset_sd
        self.learn_offset_sd = learn_offset_sd
        self.offset_log_sd_spread = offset_log_sd_spread
        self.average_offset_sd = average_offset_sd
        self.stray_share = stray_share
        self.stray_reporters = stray_reporters
        self.curvature = curvature
        self.tol = tol
        self.max_iter = max_iter

    def fit(
        self,
        X: ArrayLike,  # noqa: N803
        y: ArrayLike,
        groups: ArrayLike | None = None,
        noise_sd: ArrayLike | None = None,
        sample_weight: ArrayLike | None = None,
    ) -> Self:
        """Fit and return itself.

        Parameters
        ----------
        X : array (n, p)
            Columns, without an intercept.
        y : array (n,)
            Ordered classes.
        groups : array (n,) or None
            Reporter of each row; None leaves reporter offsets out.
        noise_sd : array (n,) or None
            Sd of the latent noise of each row; one by default, more where a measure is estimated.
        sample_weight : array (n,) or None
            Weight of each row.

        Raises
        ------
        ValueError
            If inputs disagree in length, are not finite, hold one class only (without
            `classes`) or one that `classes` does not list.

        """
        design, target = validate_data(self, X, y, dtype=np.float64, y_numeric=False)
        check_classification_targets(target)
        self.classes_, category = numbered(target, self.classes)
        n = len(category)
        self._has_offsets = groups is not None and self.offset_sd > 0.0
        self.reporters_, labels = gathered(groups if self._has_offsets else None, n)
        rows = rows_in_order(
            np.column_stack([design, per_row(noise_sd, n), weights(sample_weight, n)]),
            category,
            labels,
            Shape(LINKS[self.link], self.contamination, len(self.classes_)),
        )
        return self._fitted(InMemory((rows,)))

    def rows(self, columns: Floats, category: Integers, labels: Integers) -> Rows:
        """Return one block of rows for `fit_blocks`.

        `columns` (n, p + 2) are those of `X`, the sd of each row's noise and its weight; `category`
        (n,) counts from 0 in the listed `classes`, `labels` (n,) say whose row it is.
        """
        shape = Shape(LINKS[self.link], self.contamination, len(np.asarray(self.classes)))
        return rows_in_order(columns, category, labels, shape)

    def fit_blocks(self, blocks: Blocks[Rows], reporters: Integers) -> Self:
        """Fit to blocks of `rows`, as `fit` fits to all at once but for rounding; return itself.

        `reporters` (R,) are those of the blocks in their order, each in one block only.
        """
        self.classes_ = np.asarray(self.classes)
        self._has_offsets = self.offset_sd > 0.0
        self.reporters_ = reporters
        self._fitted(blocks)
        self.n_features_in_ = len(self.coef_)
        return self

    def predict_proba(
        self,
        X: ArrayLike,  # noqa: N803
        groups: ArrayLike | None = None,
        noise_sd: ArrayLike | None = None,
    ) -> Floats:
        """Return posterior predictive chances (n, K).

        Without `groups` the answer is for the population: offsets are integrated out. With
        them, known reporters get their personal answer.
        """
        check_is_fitted(self)
        columns: Floats = validate_data(self, X, dtype=np.float64, reset=False)
        n = len(columns)
        offset, variance = self._offsets_of(groups, n)
        design = np.column_stack([np.ones(n), columns])
        below = self.posterior_.cumulative(design, per_row(noise_sd, n), offset, variance)
        edges = np.hstack([np.zeros((n, 1)), below, np.ones((n, 1))])
        chances = np.maximum(np.diff(edges), 0.0)
        return np.asarray(chances / chances.sum(axis=1, keepdims=True), dtype=np.float64)

    def predict(self, X: ArrayLike) -> Any:  # noqa: N803
        """Return the most probable class of each row, (n,)."""
        chances = self.predict_proba(X)
        return self.classes_[np.argmax(chances, axis=1)]

    def __sklearn_tags__(self) -> Any:
        """Say that unordered classes, which some checks draw, are no fair trial."""
        tags = super().__sklearn_tags__()
        tags.classifier_tags.poor_score = True
        return tags

    def _fitted(self, blocks: Blocks[Rows]) -> Self:
        rows = RowBlocks.of(blocks)
        beliefs = stated_beliefs(self, offsets=self._has_offsets)
        search = Search(rows, stated_prior(self, rows), beliefs, self.tol, self.max_iter)
        point, self.n_iter_ = search.run(*started(search, self._scales(search)))
        self._keep(search, point)
        return self

    def _scales(self, search: Search) -> Scales:
        log_sd = float(np.log(self.offset_sd)) if self._has_offsets else 0.0
        return Scales(log_sd, np.zeros(search.prior.n_blocks), self.contamination)

    def _keep(self, search: Search, point: Point) -> None:
        p = search.rows.n_coefficients
        information = search.information(point, observed=self.curvature == "observed")
        covariance = solve_positive(information, np.eye(len(point.parameters)))
        sd = self._offsets_sd(point) if self._has_offsets else 0.0
        self.posterior_ = LaplacePosterior(self.link, point.parameters, covariance, p, sd)
        self.intercept_, self.coef_ = float(point.parameters[0]), point.parameters[1:p]
        self.thresholds_ = self.posterior_.thresholds - self.intercept_
        self.offsets_ = point.offsets.mode
        self.offset_variances_ = 1.0 / point.offsets.total
        self.doubts_ = point.doubts.of_reporter
        self.block_scales_ = np.exp(point.scales.log_blocks)
        self.contamination_ = point.scales.contamination
        self.log_likelihood_ = point.offsets.log_marginal()

    def _offsets_sd(self, point: Point) -> float:
        if self.learn_offset_sd and self.average_offset_sd:
            return expected_offset_sd(point, self.offset_log_sd_spread)
        return float(np.exp(point.scales.log_sd))

    def _offsets_of(self, groups: ArrayLike | None, n: int) -> tuple[Floats, Floats]:
        variance = np.full(n, self.posterior_.offset_sd**2)
        if groups is None or not self._has_offsets:
            return np.zeros(n), variance
        labels = np.asarray(groups)
        place = np.clip(np.searchsorted(self.reporters_, labels), 0, len(self.reporters_) - 1)
        known = self.reporters_[place] == labels
        return (
            np.where(known, self.offsets_[place], 0.0),
            np.where(known, self.offset_variances_[place], variance),
        )
