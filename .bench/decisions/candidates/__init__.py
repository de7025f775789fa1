"""Candidates: ways to turn reports into decisions, side by side."""

from __future__ import annotations

from decisions.candidates.baselines import FixedTable, GeometryAlone
from decisions.candidates.decision import Candidate
from decisions.candidates.linear import BayesianResidual, PlainRegression, PriorRidge
from decisions.candidates.ordinal import OrderedProbitMle, StackedLogistic
from decisions.candidates.ours import Ours
from decisions.candidates.trees import MonotoneBoosting, Neighbours

CANDIDATES: dict[str, Candidate] = {
    "fixed table": FixedTable(),
    "geometry alone": GeometryAlone(),
    "plain regression": PlainRegression(),
    "BayesianRidge on residual": BayesianResidual(),
    "Ridge, same prior": PriorRidge("ours"),
    "Ridge, plain columns": PriorRidge("plain"),
    "HistGradientBoosting": MonotoneBoosting(),
    "stacked LogisticRegression": StackedLogistic(),
    "OrderedModel": OrderedProbitMle(),
    "k-nearest neighbours": Neighbours(),
    "ours": Ours(),
}
