"""Six simulated worlds: what depth a foot truly needs, and how knitters knit and report.

A world states the needed depth (cm) of a sock; everything else (noise, offsets, thresholds, what
gets knitted) is shared, so the worlds differ only in what there is to be learned. Their sizes were
set so that plain candidates come out about as they should, before our own was looked at.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from models.domain.geometry import IDEAL_DIAGONAL_EASE, across_mm, ideal_depth_mm
from models.learning.evidence import Column

Socks = Mapping[str, Column]
"""Columns by name: foot, yarn and gauge, `heel_stitches` and `closing_stitches`."""

Need = Callable[[Socks], Column]

YARN_SHARES = np.array([0.06, 0.56, 0.18, 0.12, 0.06, 0.02])
YARN_STITCHES = np.array([34.0, 30.0, 26.0, 22.0, 19.0, 15.0])
"""Yarn weights 0 to 5 as knitters of socks might use them, and their stitches per 10 cm."""


@dataclass(frozen=True)
class Truth:
    """The hidden figures of one world, drawn once a seed; lengths in cm, the rest latent.

    `need` answers with the needed depth (cm) of each sock from the whole foot.
    """

    need: Need
    slope: float
    half_width: float
    outer_gap: float
    offset_sd: float
    taste_sd: float = 0.0
    adaptation: float = 0.0
    gross_errors: float = 0.0
    missing_diagonals: float = 0.0

    @property
    def spread(self) -> float:
        """Sd of the latent fit of one sock over knitters, noise included."""
        return float(np.sqrt(1 + self.offset_sd**2 + (self.slope * self.taste_sd) ** 2))


World = Callable[[np.random.Generator], Truth]


def ideal_cm(socks: Socks, ease: float = IDEAL_DIAGONAL_EASE) -> Column:
    """Return the depth in cm that geometry asks for at an ease."""
    across = across_mm(
        socks["heel_stitches"], socks["closing_stitches"], socks["stitches_per_10cm"]
    )
    return ideal_depth_mm(socks["heel_diagonal_mm"], across, ease) / 10


def _shared(rng: np.random.Generator) -> dict[str, float]:
    """Draw what every world shares: slope per cm, thresholds, how far reporters differ."""
    return {
        "slope": float(np.clip(rng.normal(1.35, 0.25), 0.8, 2.0)),
        "half_width": 0.85 * float(np.exp(rng.normal(0.0, 0.12))),
        "outer_gap": 0.95 * float(np.exp(rng.normal(0.0, 0.15))),
        "offset_sd": 0.5 * float(np.exp(rng.normal(0.0, 0.25))),
    }


def _shape(rng: np.random.Generator, size: float) -> Need:
    """Needs that move with a foot's proportions, `size` cm for one sd of each."""
    pull = rng.normal(0.0, size, 4)

    def need(socks: Socks) -> Column:
        width = socks["foot_circumference_mm"] / socks["foot_length_mm"]
        ankle = socks["ankle_circumference_mm"] / socks["foot_circumference_mm"]
        parts = [_arch(socks), (ankle - 0.922) / 0.050, (width - 0.929) / 0.042]
        parts.append((socks["stitches_per_10cm"] - 28) / 4)
        return sum(size * part for size, part in zip(pull, parts, strict=True))

    return need


def _arch(socks: Socks) -> Column:
    return (socks["heel_diagonal_mm"] / socks["foot_length_mm"] - 1.265) / 0.040


def _size(socks: Socks) -> Column:
    return (socks["foot_length_mm"] - 263) / 17.4


def _yarn(rng: np.random.Generator, size: float) -> Need:
    """Needs that move with the yarn weight, `size` cm sd between weights."""
    effect = rng.normal(0.0, size, 8)
    return lambda socks: effect[socks["yarn_weight"].astype(int)]


def _geometry(rng: np.random.Generator) -> Need:
    """Needs that follow the formula at an ease that may not be the one assumed."""
    ease = float(np.clip(rng.normal(-0.10, 0.05), -0.21, 0.01))
    return lambda socks: ideal_cm(socks, ease)


def _plus(*parts: Need) -> Need:
    return lambda socks: np.sum([part(socks) for part in parts], axis=0)


def geometry_is_right(rng: np.random.Generator) -> Truth:
    """Let the formula hold; only the ease is not the one assumed."""
    return Truth(_geometry(rng), **_shared(rng))


def yarn_and_shape(rng: np.random.Generator) -> Truth:
    """Yarn weight and foot proportions move the need on top of the formula."""
    return Truth(_plus(_geometry(rng), _shape(rng, 0.28), _yarn(rng, 0.35)), **_shared(rng))


def non_linear(rng: np.random.Generator) -> Truth:
    """Stretch saturates, and yarn, instep and size act on each other."""
    base, bend = _geometry(rng), rng.normal(0.0, 0.28, 3)

    def need(socks: Socks) -> Column:
        arch, size = _arch(socks), _size(socks)
        thick = (28 - socks["stitches_per_10cm"]) / 4
        wave = bend[0] * (np.tanh(arch) * size) + bend[1] * (size**2 - 1) / 1.4
        return base(socks) + wave + bend[2] * np.tanh(thick) * arch + 0.2 * np.sin(2 * size)

    return Truth(need, **_shared(rng))


def careless(rng: np.random.Generator) -> Truth:
    """One report in twenty is grossly wrong and half of the heel diagonals are missing."""
    need = _plus(_geometry(rng), _shape(rng, 0.25), _yarn(rng, 0.3))
    return Truth(need, **_shared(rng), gross_errors=0.05, missing_diagonals=0.5)


def geometry_is_irrelevant(rng: np.random.Generator) -> Truth:
    """Heel diagonal and stitches do not matter; a little of foot length does."""
    level, pull = rng.normal(7.0, 0.5), rng.normal(0.0, 0.35)
    yarn = _yarn(rng, 0.2)
    return Truth(lambda socks: level + pull * _size(socks) + yarn(socks), **_shared(rng))


def knitters_adapt(rng: np.random.Generator) -> Truth:
    """Knitters know their own needs in part and already knit towards them."""
    need = _plus(_geometry(rng), _shape(rng, 0.30), _yarn(rng, 0.25))
    return Truth(need, **_shared(rng), taste_sd=0.6, adaptation=0.75)


WORLDS: dict[str, World] = {
    "geometry": geometry_is_right,
    "yarn_shape": yarn_and_shape,
    "non_linear": non_linear,
    "careless": careless,
    "irrelevant": geometry_is_irrelevant,
    "adapted": knitters_adapt,
}
FIVE = tuple(name for name in WORLDS if name != "adapted")
