"""Reports that knitters of a world send in, and questions that new knitters ask."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from decisions.feet import FootSource
from decisions.worlds import YARN_SHARES, YARN_STITCHES, Socks, Truth, ideal_cm
from models.domain.foot import MEASUREMENT_NAMES
from models.domain.gauge import Gauge
from models.domain.policy import Policy
from models.domain.sections import rounds_worked
from models.learning.evidence import Column, Evidence
from models.learning.question import Question

EACH = 4
PLAIN_ROUNDS, MEDIUM_ROUNDS = 3, 2
TABLE_SHARE = 0.30
"""The default table: this share of the decrease rounds slow, whatever the foot."""


@dataclass(frozen=True)
class Pool:
    """Reports in the order they came in: columns (n,) by name, and who sent them."""

    columns: dict[str, Column]
    reporter: np.ndarray

    def first(self, n: int) -> Evidence:
        """Return the first `n` reports."""
        columns = {name: values[:n] for name, values in self.columns.items()}
        return Evidence.of(columns, self.reporter[:n])


@dataclass(frozen=True)
class Questions:
    """Socks asked about, with the depth (cm) of every number of slow-decrease rounds.

    `whole` has the whole feet, `seen` what was measured of them; both describe socks without
    slow-decrease rounds. `depths` is (n, S), `offered` says which numbers the stitches allow, and
    `table` (n,) is what the default table says.
    """

    whole: dict[str, Column]
    seen: dict[str, Column]
    depths: Column
    offered: np.ndarray
    table: np.ndarray

    @cached_property
    def asked(self) -> list[Question]:
        """The questions as the service takes them."""
        return [self._question(n) for n in range(len(self.table))]

    def _question(self, n: int) -> Question:
        row = {name: float(values[n]) for name, values in self.seen.items()}
        foot = {name: row[name] for name in MEASUREMENT_NAMES if row[name] == row[name]}
        stitches = int(row["heel_stitches"]), int(row["closing_stitches"])
        policy = Policy(*stitches, MEDIUM_ROUNDS, PLAIN_ROUNDS, EACH)
        gauge = Gauge(row["stitches_per_10cm"], row["rounds_per_10cm"])
        return Question(foot, int(row["yarn_weight"]), gauge, policy)


def draw_fabric(rng: np.random.Generator, feet: Socks) -> dict[str, Column]:
    """Draw yarn weight and gauge, and the stitches that suit each foot's circumference."""
    n = len(feet["foot_length_mm"])
    yarn = rng.choice(len(YARN_SHARES), size=n, p=YARN_SHARES)
    stitches = YARN_STITCHES[yarn] * np.exp(rng.normal(0.0, 0.05, n))
    rounds = stitches * rng.normal(1.36, 0.06, n)
    around = feet["foot_circumference_mm"] * (1 + rng.normal(-0.10, 0.025, n))
    heel = EACH * np.round(around * stitches / 100 / EACH)
    closing = EACH * np.round(heel * rng.uniform(0.20, 0.35, n) / EACH)
    return {
        "yarn_weight": yarn.astype(float),
        "stitches_per_10cm": stitches,
        "rounds_per_10cm": rounds,
        "heel_stitches": heel,
        "closing_stitches": closing,
        "decreases_per_round": np.full(n, float(EACH)),
    }


def counts(socks: Socks, plain: Column, slow: Column, wanted_medium: Column) -> dict[str, Column]:
    """Return the counts of a schedule under the default policy; arrays broadcast."""
    left = decreases(socks) - slow
    medium = np.minimum(wanted_medium, left)
    return {
        "plain_rounds": plain,
        "slow_decrease_rounds": slow,
        "medium_decrease_rounds": medium,
        "fast_decrease_rounds": left - medium,
    }


def decreases(socks: Socks) -> Column:
    """Return how many decrease rounds there are."""
    return (socks["heel_stitches"] - socks["closing_stitches"]) / EACH


def depth_cm(socks: Socks, worked: Socks) -> Column:
    """Return the depth in cm of some counts."""
    return rounds_worked(worked) * 10 / socks["rounds_per_10cm"]


def draw_reports(rng: np.random.Generator, truth: Truth, source: FootSource, n: int) -> Pool:
    """Draw `n` reports; a reporter sends about three, half of them for the same foot."""
    sizes = rng.geometric(0.33, size=n)
    reporter = np.repeat(np.arange(n), sizes)[:n]
    own = source.draw(rng, n)
    whose = np.where(rng.random(n) < 0.5, reporter, np.arange(n))
    feet = {name: values[whose] for name, values in own.items()}
    socks = {**feet, **draw_fabric(rng, feet)}
    taste = rng.normal(0.0, truth.taste_sd, n)[reporter]
    offset = rng.normal(0.0, truth.offset_sd, n)[reporter]
    wanted = truth.need(socks) + taste
    worked = _worked(rng, truth, socks, wanted, reporter)
    beyond = depth_cm(socks, worked) - wanted
    score = scored(truth.slope * beyond + offset + rng.normal(size=n), truth)
    return Pool(spoiled(rng, truth, {**socks, **worked, "fit_score": score}), reporter)


def _worked(
    rng: np.random.Generator, truth: Truth, socks: Socks, wanted: Column, reporter: np.ndarray
) -> dict[str, Column]:
    """Return what was knitted: between table and geometry, or towards what the knitter wants."""
    n = len(wanted)
    plain, medium = rng.integers(2, 7, n).astype(float), rng.integers(1, 5, n).astype(float)
    most, geometry = decreases(socks), ideal_cm(socks)
    table = depth_cm(socks, counts(socks, plain, np.round(TABLE_SHARE * most), medium))
    habit = rng.normal(0.0, 0.4, n)[reporter]
    usual = 0.5 * (table + geometry) + habit + rng.normal(0.0, 0.7, n)
    knowing = geometry + truth.adaptation * (wanted - geometry) + rng.normal(0.0, 0.38, n)
    target = knowing if truth.adaptation > 0 else usual
    shallowest = depth_cm(socks, counts(socks, plain, np.zeros(n), medium))
    slow = np.round((target - shallowest) * socks["rounds_per_10cm"] / 30)
    return counts(socks, plain, np.clip(slow, 0.0, most), medium)


def scored(latent: Column, truth: Truth) -> Column:
    """Return the fit scores, -2 to 2, of latent fits."""
    outer = truth.half_width + truth.outer_gap
    limits = [-outer, -truth.half_width, truth.half_width, outer]
    return np.searchsorted(limits, latent) - 2.0


def spoiled(rng: np.random.Generator, truth: Truth, socks: Socks) -> dict[str, Column]:
    """Flip scores, misread feet and lose diagonals as often as the world does."""
    score, n = socks["fit_score"], len(socks["fit_score"])
    gross, kind = rng.random(n) < truth.gross_errors, rng.integers(3, size=n)
    score = np.where(gross & (kind == 0), -score, score)
    score = np.where(gross & (kind == 1), rng.integers(-2, 3, n), score)
    slip = np.where(gross & (kind == 2), rng.choice([0.8, 0.9, 1.1, 1.25], n), 1.0)
    lost = rng.random(n) < truth.missing_diagonals
    diagonal = np.where(lost, np.nan, socks["heel_diagonal_mm"] * slip)
    return {**socks, "fit_score": score, "heel_diagonal_mm": diagonal}


def draw_questions(rng: np.random.Generator, truth: Truth, source: FootSource, n: int) -> Questions:
    """Draw `n` questions of new knitters."""
    feet = source.draw(rng, n)
    fabric = draw_fabric(rng, feet)
    lost = rng.random(n) < truth.missing_diagonals
    plain, medium = np.full((n, 1), float(PLAIN_ROUNDS)), np.full((n, 1), float(MEDIUM_ROUNDS))
    most = decreases(fabric)
    slow = np.arange(int(most.max()) + 1, dtype=float)
    wide = {name: values[:, None] for name, values in fabric.items()}
    depths = depth_cm(wide, counts(wide, plain, slow[None, :], medium))
    none = counts(fabric, plain[:, 0], np.zeros(n), medium[:, 0])
    whole = {**feet, **fabric, **none}
    seen = {**whole, "heel_diagonal_mm": np.where(lost, np.nan, feet["heel_diagonal_mm"])}
    offered = slow[None, :] <= most[:, None]
    return Questions(whole, seen, depths, offered, np.round(TABLE_SHARE * most).astype(int))
