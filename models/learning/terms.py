"""The terms of the regression: their names, and what is believed of them before any report.

The latent fit score is a sum of terms; one sock's noise has variance 1 on its scale, and a
coefficient is in such latent units per unit of its term. Three log widths, of "a little shallow",
"just right" and "a little deep", cut the scale into the five scores.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log

import numpy as np

from models.domain.yarn import YARN_WEIGHTS
from models.learning.ordinal.arrays import Floats, Integers

INTERCEPT = "intercept"
EXCESS = "excess_depth_cm"
"""Depth over the geometry's ideal, in cm: the one term that the schedule moves."""

HABIT = "habit_cm"
"""How much deeper than the measures explain a reporter knits anyway; 0 for who asks."""

SLOPE = 1.4
"""Latent units per cm of excess depth before any report.

This and every other number of a belief here: tuned on seeds 100 to 139 of the decision benchmark
(`.bench/decisions`); its published figures are of other seeds.
"""


@dataclass(frozen=True)
class Block:
    """Terms believed to matter alike: prior sd, and the sd of the log of how far that may be off.

    A `log_spread` of 0 keeps the sd as stated; otherwise the reports say how large such terms are.
    """

    names: tuple[str, ...]
    sd: float
    log_spread: float = 0.0


SHAPE_NAMES = ("foot_length", "circumference", "diagonal", "ankle", "across", "ease", "gauge")
PAIRS = tuple((i, j) for i in range(len(SHAPE_NAMES)) for j in range(i + 1))
BUMP_CENTRES = (-1.5, -0.5, 0.5, 1.5)
BUMPED = tuple(map(SHAPE_NAMES.index, ("foot_length", "diagonal", "ankle", "gauge")))
"""Shape terms along which need is the least linear."""

SHAPE = Block(SHAPE_NAMES, 0.30)
YARN = Block(tuple(f"yarn_weight_{weight.number}" for weight in YARN_WEIGHTS), 0.45)
TRUST = Block(("ideal_depth_cm",), 1.0)
"""The ideal depth itself: as much as the slope here means that the geometry does not matter.

The sds of these three blocks are the widest believed; `models.learning.beliefs` averages.
"""

PRODUCTS = Block(tuple(f"{SHAPE_NAMES[i]}*{SHAPE_NAMES[j]}" for i, j in PAIRS), 0.04, 0.8)
BUMPS = Block(tuple(f"{SHAPE_NAMES[i]}@{c:g}" for i in BUMPED for c in BUMP_CENTRES), 0.08, 0.8)

BLOCKS = (SHAPE, YARN, TRUST, PRODUCTS, BUMPS)
LEARNED_BLOCKS = tuple(block for block in BLOCKS if block.log_spread)
LINEAR_COLUMNS = sum(len(block.names) for block in (SHAPE, YARN, TRUST))
"""The first columns, simple enough to say what a reporter's measures explain of a depth."""

WIDTH_NAMES = ("log_width_a_little_shallow", "log_width_just_right", "log_width_a_little_deep")
COLUMN_NAMES = tuple(name for block in BLOCKS for name in block.names)
COEFFICIENT_NAMES = (INTERCEPT, EXCESS, HABIT, *COLUMN_NAMES)
TERM_NAMES = (*COEFFICIENT_NAMES, *WIDTH_NAMES)
"""All that is learned, in the order of a posterior's mean."""

PRIOR_MEANS: Floats = np.array(
    [0.0, SLOPE, -0.7, *[0.0] * len(COLUMN_NAMES), log(0.95), log(1.7), log(0.95)]
)
PRIOR_SDS: Floats = np.array(
    [1.05, 0.15, 1.0, *(block.sd for block in BLOCKS for _ in block.names), *[0.15] * 3]
)


def block_numbers() -> Integers:
    """Return, for each column, the number of its learned block, or -1 where the sd is final."""
    numbers = {block: number for number, block in enumerate(LEARNED_BLOCKS)}
    return np.array([numbers.get(block, -1) for block in BLOCKS for _ in block.names])
