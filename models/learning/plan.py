"""What to have test-knitted next, so that the defaults of a design become certain fastest.

A default is wrong by as much as its best depth is unknown. For each size, the mean chance of just
right is a hill over depth; where the terms are a little off, so is its top, and the chance that is
lost is half the hill's curvature times the variance of the top. Summed over the sizes this is half
`trace(loss @ covariance)`, and one report, which tells about its latent position alone, changes
the covariance by rank one. So every sock that could be asked for is priced in one product of
matrices, the best is taken, and so on: greedily, sock by sock.

Extreme socks tell most about the terms (D-optimality) but they are not worn, and they tell of feet
that the design is not for; the loss asks only for what the defaults rest on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from models.domain.foot import MEASUREMENT_NAMES
from models.learning.calibration import Calibration, geometry_alone
from models.learning.defaults import Defaults, is_established
from models.learning.estimator import LINK, Posterior
from models.learning.evidence import Column
from models.learning.optimal import expected_information, loss_reduction, updated, variances
from models.learning.ordinal.likelihood import Noise
from models.learning.ordinal.links import LINKS
from models.learning.ordinal.thresholds import thresholds_from_gaps
from models.learning.outcomes import SLOPE, SizeHeel, terms_of
from models.learning.target_feet import TargetFeet
from models.learning.terms import COEFFICIENT_NAMES, PRIOR_SDS

FEET_OF_A_SIZE = 5
"""Feet of each size that are asked for, from the smallest heel diagonal to the largest."""

WEARABLE = 0.8
"""Share of the best chance of a heel at most a little off that a sock must have to be asked for."""

DELIBERATE = 4
"""Planned socks from which on two may be deliberately off."""

Places = NDArray[np.intp]

_FAR = 0.75
_LEARNED = 0.1
_FLATTEST = 1e-4
_P = len(COEFFICIENT_NAMES)
_BY_DEPTH = np.eye(_P)[SLOPE]


@dataclass(frozen=True)
class Sock:
    """A sock that can be asked for: a foot (mm by measurement) of a size, and its rounds."""

    size: SizeHeel
    foot: dict[str, float]
    slow_decrease_rounds: int
    deliberate: str | None = None


@dataclass(frozen=True)
class Planned:
    """A sock to ask for, and the share of what is unsure of the defaults that it would settle.

    `settled` is of the whole before the plan; `of_size` says what it settles of each size's own,
    by label. `wearable` is the chance of a heel at most a little off.
    """

    sock: Sock
    settled: float
    of_size: dict[str, float]
    wearable: float


@dataclass(frozen=True)
class Candidates:
    """Socks that could be asked for, with their terms (n, p) and what is expected of each (n,).

    `position` is the expected latent fit, `shallow` and `deep` the chances of far off.
    """

    socks: list[Sock]
    rows: Column
    position: Column
    wearable: Column
    too_shallow: Column
    too_deep: Column


def plan(found: Defaults, number: int) -> list[Planned]:
    """Return the socks to ask for next, the most telling first.

    Where reports have not yet said how much deeper is felt as deeper, one clearly shallow and one
    clearly deep sock come first; all others are expected to be worn.
    """
    posterior = _answering(found).posterior
    socks = candidates(posterior, [default.size for default in found.sizes])
    state = _State(posterior, found)
    planned = []
    if number >= DELIBERATE and not slope_is_learned(found.calibration):
        planned += [state.take(socks, place, word) for place, word in _far_off(socks)]
    usable = np.flatnonzero(_worn(socks))
    while len(planned) < number:
        gains = state.gains(socks, usable)
        planned.append(state.take(socks, int(usable[np.argmax(gains)])))
    return planned


def candidates(posterior: Posterior, sizes: Sequence[SizeHeel]) -> Candidates:
    """Return every sock that could be asked for: each size's feet and slow-decrease rounds."""
    socks, rows = [], []
    for size in sizes:
        feet = representative(size.feet)
        steps = size.steps_cm(size.policy.plain_rounds)
        for place, terms in enumerate(terms_of(size, feet)):
            foot = {name: float(feet[name][place]) for name in MEASUREMENT_NAMES}
            socks += [Sock(size, foot, slow) for slow in range(len(steps))]
            rows += [terms + step * _BY_DEPTH for step in steps]
    matrix = np.array(rows)
    position = matrix @ posterior.mean[:_P]
    spread = variances(posterior.covariance[:_P, :_P], matrix) + posterior.noise_variance
    below = ndtr((_limits(posterior) - position[:, None]) / np.sqrt(spread)[:, None])
    worn = below[:, 3] - below[:, 0]
    return Candidates(socks, matrix, position, worn, below[:, 1], 1 - below[:, 2])


def representative(feet: TargetFeet) -> dict[str, Column]:
    """Return a few typical feet: the means of equal shares of people, by heel diagonal."""
    order = np.argsort(feet.columns["heel_diagonal_mm"], kind="stable")
    weight = feet.weight[order]
    share = np.minimum(
        (np.cumsum(weight) - weight / 2) * FEET_OF_A_SIZE, FEET_OF_A_SIZE - 1
    ).astype(int)
    total = np.bincount(share, weights=weight, minlength=FEET_OF_A_SIZE)
    kept = total > 0
    return {
        name: (
            np.bincount(share, weights=weight * values[order], minlength=FEET_OF_A_SIZE)[kept]
            / total[kept]
        )
        for name, values in feet.columns.items()
    }


def loss_vectors(posterior: Posterior, found: Defaults) -> Column:
    """Return one vector (p,) a size, whose products with the covariance are the lost chances.

    With U the size's mean chance of just right at its default, the loss of a size is half of
    `v' covariance v` with `v = (d2U / d depth d terms) / sqrt(-d2U / d depth2)`.
    """
    low, high = _limits(posterior)[1:3]
    sd = posterior.noise_variance**0.5
    slope = float(posterior.mean[SLOPE])
    vectors = []
    for default in found.sizes:
        size, best = default.size, default.best
        step = size.steps_cm(best.plain_rounds)[best.slow_decrease_rounds]
        rows = size.terms + step * _BY_DEPTH
        first, second = _hill(rows @ posterior.mean[:_P], low, high, sd)
        weight = size.feet.weight
        mixed = slope * (weight * second) @ rows + float(weight @ first) * _BY_DEPTH
        curvature = -float(weight @ second) * slope**2
        vectors.append(mixed / np.sqrt(max(curvature, _FLATTEST)))
    return np.array(vectors)


def slope_is_learned(calibration: Calibration) -> bool:
    """Return whether reports, not only what was believed before, say what a cm of depth does."""
    if calibration.reports == 0 or not is_established(calibration.figures):
        return False
    prior = float(PRIOR_SDS[SLOPE]) ** 2
    return float(calibration.posterior.covariance[SLOPE, SLOPE]) < (1 - _LEARNED) * prior


class _State:
    """What is unsure of the defaults while socks are being taken."""

    def __init__(self, posterior: Posterior, found: Defaults) -> None:
        self._posterior = posterior
        self._labels = [default.size.label for default in found.sizes]
        self._losses = loss_vectors(posterior, found)
        self._covariance = posterior.covariance[:_P, :_P]
        self._before = self._of_sizes()

    def gains(self, socks: Candidates, places: Places) -> Column:
        """Return by what each sock would lower the loss."""
        rows = socks.rows[places]
        told = self._told(socks.position[places], rows)
        return loss_reduction(self._covariance, self._losses.T @ self._losses, rows, told)

    def take(self, socks: Candidates, place: int, deliberate: str | None = None) -> Planned:
        """Return a sock with what it teaches, and believe from now on that it was reported."""
        row, sock = socks.rows[place], socks.socks[place]
        told = float(self._told(socks.position[[place]], row[None, :])[0])
        before = self._of_sizes()
        self._covariance = updated(self._covariance, row, told)
        settled = before - self._of_sizes()
        shares = _share(settled, self._before).tolist()
        return Planned(
            Sock(sock.size, sock.foot, sock.slow_decrease_rounds, deliberate),
            float(_share(settled.sum(), self._before.sum())),
            dict(zip(self._labels, shares, strict=True)),
            float(socks.wearable[place]),
        )

    def _of_sizes(self) -> Column:
        return 0.5 * variances(self._covariance, self._losses)

    def _told(self, position: Column, rows: Column) -> Column:
        sd = np.full(len(rows), self._posterior.noise_variance**0.5)
        noise = Noise(LINKS[LINK], self._posterior.contamination, sd)
        spread = variances(self._covariance, rows)
        return expected_information(noise, _limits(self._posterior), position, spread)


def _share(part: Column, whole: Column) -> Column:
    """Return parts of wholes; none of nothing, where no depth suits a size and none is better."""
    return np.asarray(part / np.where(np.asarray(whole) > 0, whole, 1.0))


def _answering(found: Defaults) -> Calibration:
    return found.calibration if found.established else geometry_alone()


def _limits(posterior: Posterior) -> Column:
    return thresholds_from_gaps(posterior.mean[_P:])


def _hill(position: Column, low: float, high: float, sd: float) -> tuple[Column, Column]:
    """Return first and second derivative of the chance of just right by the latent position."""
    upper, lower = (high - position) / sd, (low - position) / sd
    up, down = (np.exp(-0.5 * at**2) / np.sqrt(2 * np.pi) for at in (upper, lower))
    return (down - up) / sd, (lower * down - upper * up) / sd**2


def _worn(socks: Candidates) -> Column:
    """Mark socks that are nearly as likely to be worn as the best one for the same foot."""
    best: dict[int, float] = {}
    for sock, worn in zip(socks.socks, socks.wearable, strict=True):
        best[id(sock.foot)] = max(best.get(id(sock.foot), 0.0), float(worn))
    wanted = np.array([WEARABLE * best[id(sock.foot)] for sock in socks.socks])
    return np.asarray(socks.wearable >= wanted)


def _far_off(socks: Candidates) -> list[tuple[int, str]]:
    """Return the mildest sock that is clearly shallow and the mildest that is clearly deep.

    Where none is clear enough, the clearest there is.
    """
    found = []
    for chance, word in ((socks.too_shallow, "shallow"), (socks.too_deep, "deep")):
        clear = min(_FAR, float(chance.max()))
        found.append((int(np.argmin(np.where(chance >= clear, chance, np.inf))), word))
    return found
