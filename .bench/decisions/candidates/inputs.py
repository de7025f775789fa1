"""Inputs of the plain candidates: excess over geometry and columns, for reports and questions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from decisions.population import Questions
from models.domain.anthropometry import regression
from models.domain.foot import MEASUREMENT_NAMES
from models.domain.sections import rounds_worked
from models.learning.design import design
from models.learning.evidence import Column, Evidence
from models.learning.missing import filled
from models.learning.terms import SHAPE, YARN

LINEAR = len(SHAPE.names) + len(YARN.names)
FURTHEST = 3.5


@dataclass(frozen=True)
class Inputs:
    """Columns (n, q), ideal depth (cm, (n,)), excess over it: (n,) for reports, else (n, S)."""

    columns: Column
    excess: Column
    ideal: Column


def report_inputs(evidence: Evidence, kind: str) -> Inputs:
    """Return the inputs of reports; `kind` as for `_inputs`."""
    return _inputs(evidence.columns, kind)


def question_inputs(questions: Questions, kind: str) -> Inputs:
    """Return the inputs of questions; `kind` as for `_inputs`."""
    found = _inputs(questions.seen, kind)
    return Inputs(found.columns, questions.depths - found.ideal[:, None], found.ideal)


def grid(inputs: Inputs) -> Column:
    """Return one row (n*S, 1+q) per question and candidate: excess first, then the columns."""
    candidates = inputs.excess.shape[1]
    return np.column_stack([inputs.excess.reshape(-1), np.repeat(inputs.columns, candidates, 0)])


def _inputs(columns: Mapping[str, Column], kind: str) -> Inputs:
    """Return "ours" (all), "linear" (shape and yarn), or "plain" (standardised raw measures)."""
    socks = design(columns)
    ideal = rounds_worked(columns) * 10 / columns["rounds_per_10cm"] - socks.excess
    linear = socks.columns[:, :LINEAR]
    chosen = {"ours": socks.columns, "linear": linear}.get(kind)
    if chosen is None:
        chosen = np.hstack([_raw(columns), linear[:, len(MEASUREMENT_NAMES) :]])
    return Inputs(chosen, socks.excess, ideal)


def _raw(columns: Mapping[str, Column]) -> Column:
    complete, _ = filled(columns)
    alone = {name: regression(name, frozenset()) for name in MEASUREMENT_NAMES}
    scaled = [(complete[name] - usual.intercept) / usual.sd for name, usual in alone.items()]
    return np.clip(np.column_stack(scaled), -FURTHEST, FURTHEST)
