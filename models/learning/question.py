"""A knitter's question, and the numbers it becomes: the sock and the depths to choose from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from models.domain.anthropometry import Estimate, estimate
from models.domain.foot import MEASUREMENT_NAMES, Foot
from models.domain.gauge import Gauge
from models.domain.policy import Policy
from models.learning.design import Design, design_of
from models.learning.evidence import Column


@dataclass(frozen=True)
class Question:
    """A foot, yarn and gauge, and what of the heel is fixed."""

    foot: Foot
    yarn_weight: int
    gauge: Gauge
    policy: Policy


@dataclass(frozen=True)
class Prepared:
    """A question in numbers.

    `sock` is the one without slow-decrease rounds. `depths_mm` (P, S) are those of every number of
    plain rounds in `plain_rounds` (P of them, the one asked for first) and of slow-decrease rounds
    (0 to S - 1). `fixed` is what the design knows of the sock besides its foot.
    """

    sock: Design
    depths_mm: Column
    plain_rounds: tuple[int, ...]
    heel_diagonal: Estimate
    fixed: Mapping[str, Any]

    @property
    def asked_mm(self) -> Column:
        """The depths (S,) with the plain rounds that were asked for."""
        depths: Column = self.depths_mm[0]
        return depths

    @property
    def steps_cm(self) -> Column:
        """All depths (P * S,) in cm beyond the sock's own, the plain rounds asked for first."""
        steps: Column = ((self.depths_mm - self.depths_mm[0, 0]) / 10).ravel()
        return steps


def prepared(question: Question) -> Prepared:
    """Return a question in numbers; measurements that were not taken are estimated."""
    policy = question.policy
    fixed = without_slow_rounds(policy, question.yarn_weight, question.gauge)
    plain = policy.plain_rounds_by_nearness()
    rounds = np.array(policy.total_rounds()) - policy.plain_rounds
    foot, diagonal = completed(question.foot)
    return Prepared(
        design_of({**fixed, **foot}, diagonal.sd),
        (np.array(plain)[:, None] + rounds) * question.gauge.round_mm,
        plain,
        diagonal,
        fixed,
    )


def completed(foot: Mapping[str, Any]) -> tuple[dict[str, Any], Estimate]:
    """Return all measurements of a foot, estimated where not taken, and its heel diagonal.

    Measurements may be floats or arrays of one shape.
    """
    found = {name: estimate(name, foot) for name in MEASUREMENT_NAMES}
    return {name: one.value for name, one in found.items()}, found["heel_diagonal_mm"]


def without_slow_rounds(policy: Policy, yarn_weight: int, gauge: Gauge) -> dict[str, Any]:
    """Return what the design knows of a sock besides its foot, without slow-decrease rounds."""
    return {
        **policy.counts(0),
        "yarn_weight": yarn_weight,
        "stitches_per_10cm": gauge.stitches_per_10cm,
        "rounds_per_10cm": gauge.rounds_per_10cm,
        "heel_stitches": policy.heel_stitches,
        "decreases_per_round": policy.decreases_per_round,
    }
