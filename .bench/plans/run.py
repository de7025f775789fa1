"""Play every strategy through worlds and seeds, report by report."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from decisions.feet import FootSource
from decisions.population import MEDIUM_ROUNDS, PLAIN_ROUNDS, counts, depth_cm, scored, spoiled
from decisions.worlds import WORLDS, Truth

from models.learning.calibration import Calibration, calibrate, geometry_alone
from models.learning.defaults import defaults
from models.learning.evidence import COLUMNS, Column, Evidence
from models.learning.outcomes import SizeHeel
from plans.design import fabric_of, people_of, the_design, worth
from plans.strategies import STRATEGIES, Asked, volunteer

AMOUNTS = (10, 20, 40, 60, 90, 120)
GAUGE_SD = 0.02
"""Sd of the log of a test knitter's own gauge around the design's."""


@dataclass(frozen=True)
class Result:
    """What the table of one strategy was worth after some reports, of the best possible."""

    strategy: str
    world: str
    seed: int
    reports: int
    share: float


def results(
    source: FootSource, worlds: Iterable[str], seeds: Iterable[int], amounts: Iterable[int]
) -> Iterator[Result]:
    """Yield a result for every world, seed, strategy and number of reports."""
    sizes, wanted, names = the_design(), sorted(amounts), list(worlds)
    for seed in seeds:
        people = [people_of(size, source, np.random.default_rng([seed, 9])) for size in sizes]
        for world in names:
            truth = WORLDS[world](np.random.default_rng([seed, 1]))
            sheet = worth(truth, sizes, people)
            for strategy in STRATEGIES:
                game = Game(truth, sizes, people, np.random.default_rng([seed, 4]))
                calibration, sent = geometry_alone(), 0
                yield Result(strategy, world, seed, 0, sheet.share(table(calibration, sizes)))
                for amount in wanted:
                    more = STRATEGIES[strategy](game.rng, calibration, sizes, amount - sent)
                    game.knit(more)
                    calibration, sent = calibrate(game.evidence()), amount
                    reached = sheet.share(table(calibration, sizes))
                    yield Result(strategy, world, seed, amount, reached)


def table(calibration: Calibration, sizes: list[SizeHeel]) -> list[int]:
    """Return the calibrated defaults of all sizes."""
    found = defaults(calibration, sizes)
    return [default.best.slow_decrease_rounds for default in found.sizes]


class Game:
    """One world, whose test knitters knit what they are asked for and report truly, or carelessly.

    Every sock is somebody else's.
    """

    def __init__(
        self,
        truth: Truth,
        sizes: list[SizeHeel],
        people: list[dict[str, Column]],
        rng: np.random.Generator,
    ) -> None:
        self.truth, self.sizes, self.people, self.rng = truth, sizes, people, rng
        self._socks: list[dict[str, Column]] = []

    def knit(self, asked: list[Asked]) -> None:
        """Have some socks knitted and reported."""
        self._socks += [self._report(*one) for one in asked]

    def evidence(self) -> Evidence:
        """Return all reports so far."""
        columns = {name: np.concatenate([sock[name] for sock in self._socks]) for name in COLUMNS}
        return Evidence.of(columns, np.arange(len(self._socks)))

    def _report(self, place: int, wanted: dict[str, float] | None, slow: int) -> dict[str, Column]:
        truth, rng, size = self.truth, self.rng, self.sizes[place]
        who = volunteer(rng, self.people[place], wanted)
        foot = {name: values[[who]] for name, values in self.people[place].items()}
        fabric = fabric_of(size, 1)
        for name in ("stitches_per_10cm", "rounds_per_10cm"):
            fabric[name] = fabric[name] * np.exp(rng.normal(0.0, GAUGE_SD, 1))
        socks = {**foot, **fabric}
        fixed = (np.array([float(PLAIN_ROUNDS)]), np.array([float(slow)]))
        worked = counts(socks, *fixed, np.array([float(MEDIUM_ROUNDS)]))
        beyond = depth_cm(socks, worked) - truth.need(socks) - rng.normal(0.0, truth.taste_sd, 1)
        latent = truth.slope * beyond + rng.normal(0.0, truth.offset_sd, 1) + rng.normal(size=1)
        return spoiled(rng, truth, {**socks, **worked, "fit_score": scored(latent, truth)})
