"""Lengths and yarn counts: conversion by definition.

References
----------
UCUM essence v2.2 (2024-06-17): `[in_i]` = 2.54 cm, `tex` = 1 g/km, `[den]` = 1/9 tex.

"""

from __future__ import annotations

MM_PER_UNIT = {"mm": 1.0, "cm": 10.0, "in": 25.4}
"""Millimetres in one of each unit that a column name may end in."""

TEX_PER_DENIER = 1 / 9
METRES_PER_YARD = 0.9144


def to_mm(value: float, unit: str) -> float:
    """Return a length in mm.

    >>> to_mm(10, "in")
    254.0
    """
    return value * MM_PER_UNIT[unit]


def from_mm(value_mm: float, unit: str) -> float:
    """Return a length given in mm in another unit."""
    return value_mm / MM_PER_UNIT[unit]


def per_10cm(count: float, width: float, unit: str) -> float:
    """Return stitches or rounds per 10 cm from a count over a width.

    A yarn label counts over 4 in, which is 10.16 cm, so its number is 1.6 % too high per 10 cm.

    >>> round(per_10cm(32, 4, "in"), 4)
    31.4961
    """
    return count * 100 / to_mm(width, unit)


def tex(metres_per_100g: float) -> float:
    """Return the linear density in tex (g per km) of a yarn sold as metres per 100 g.

    >>> tex(400)
    250.0
    """
    return 100_000 / metres_per_100g


def denier(metres_per_100g: float) -> float:
    """Return the linear density in denier (g per 9 km)."""
    return tex(metres_per_100g) / TEX_PER_DENIER


def metric_count(metres_per_100g: float) -> float:
    """Return the metric count Nm (m per g)."""
    return metres_per_100g / 100
