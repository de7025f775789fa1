"""An invented design of five sizes, and what its tables are truly worth in a world."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from decisions.feet import FootSource
from decisions.oracle import chance_given
from decisions.population import EACH, MEDIUM_ROUNDS, PLAIN_ROUNDS, TABLE_SHARE
from decisions.worlds import Socks, Truth

from models.domain.gauge import Gauge
from models.domain.policy import Policy
from models.learning.evidence import Column
from models.learning.outcomes import SizeHeel
from models.learning.target_feet import inside, survey_feet

GAUGE, YARN = Gauge(30.0, 41.0), 1
SHORTEST, LONGER_BY = 225.0, 14.0
NARROWEST, WIDER_BY, WIDTH = 205.0, 13.0, 26.0
AROUND, CLOSING = 0.90, 0.27
SIZES = 5
PEOPLE = 400


def the_design() -> list[SizeHeel]:
    """Return the five sizes; today's table has a fixed share of slow decreases."""
    return [_size(number) for number in range(SIZES)]


def _size(number: int) -> SizeHeel:
    length, width = SHORTEST + LONGER_BY * number, NARROWEST + WIDER_BY * number
    feet = survey_feet(
        {
            "foot_length_mm": (length, length + LONGER_BY),
            "foot_circumference_mm": (width, width + WIDTH),
        }
    )
    stitches = AROUND * (width + WIDTH / 2) * GAUGE.stitches_per_10cm / 100
    heel = EACH * round(stitches / EACH)
    closing = EACH * round(CLOSING * heel / EACH)
    policy = Policy(heel, closing, MEDIUM_ROUNDS, PLAIN_ROUNDS, EACH)
    today = round(TABLE_SHARE * policy.total_decrease_rounds)
    return SizeHeel(str(number + 1), feet, YARN, GAUGE, policy, today)


def people_of(size: SizeHeel, source: FootSource, rng: np.random.Generator) -> dict[str, Column]:
    """Return the feet of people the size is meant for, (`PEOPLE`,) each."""
    length, width = (
        (SHORTEST + LONGER_BY * (int(size.label) - 1)),
        (NARROWEST + WIDER_BY * (int(size.label) - 1)),
    )
    within = {
        "foot_length_mm": (length, length + LONGER_BY),
        "foot_circumference_mm": (width, width + WIDTH),
    }
    kept: list[dict[str, Column]] = []
    while sum(len(feet["foot_length_mm"]) for feet in kept) < PEOPLE:
        feet = source.draw(rng, 20_000)
        rows = inside(feet, within)
        kept.append({name: values[rows] for name, values in feet.items()})
    return {name: np.concatenate([feet[name] for feet in kept])[:PEOPLE] for name in kept[0]}


def fabric_of(size: SizeHeel, count: int) -> dict[str, Column]:
    """Return the columns that all socks of a size share, (count,) each."""
    policy = size.policy
    same = {
        "yarn_weight": size.yarn_weight,
        "stitches_per_10cm": size.gauge.stitches_per_10cm,
        "rounds_per_10cm": size.gauge.rounds_per_10cm,
        "heel_stitches": policy.heel_stitches,
        "closing_stitches": policy.closing_stitches,
        "decreases_per_round": policy.decreases_per_round,
    }
    return {name: np.full(count, float(value)) for name, value in same.items()}


@dataclass(frozen=True)
class Worth:
    """True mean chances of just right, one array (S,) a size."""

    chances: list[Column]

    def share(self, table: list[int]) -> float:
        """Return what a table reaches of the best possible table's mean chance."""
        best = sum(float(chance.max()) for chance in self.chances)
        return sum(float(c[s]) for c, s in zip(self.chances, table, strict=True)) / best


def worth(truth: Truth, sizes: list[SizeHeel], people: list[dict[str, Column]]) -> Worth:
    """Return what every table is worth to all people of the sizes."""
    return Worth([_chances(truth, *one) for one in zip(sizes, people, strict=True)])


def _chances(truth: Truth, size: SizeHeel, feet: Socks) -> Column:
    socks = {**feet, **fabric_of(size, PEOPLE)}
    depths = np.array(size.policy.total_rounds()) * size.gauge.round_mm / 10
    need, spread = truth.need(socks), np.full(PEOPLE, truth.spread)
    wide = np.broadcast_to(depths, (PEOPLE, len(depths)))
    return chance_given(wide, need, spread, truth).mean(axis=0)
