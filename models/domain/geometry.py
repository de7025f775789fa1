"""Fabric around the heel: what depth a foot asks for when no report is known.

The fabric that lies around the heel diagonal is half of the heel stitches across the instep,
twice the depth, and half of the closing stitches. Knitting stretches, so it is made smaller than
the foot: the diagonal ease is negative. All functions take numbers or arrays of one shape.
"""

from __future__ import annotations

from typing import Any

IDEAL_DIAGONAL_EASE = -0.10
"""Ease at which a heel is taken to be just right until reports say otherwise.

About 10 % of negative ease around the foot is common practice, no source.
"""


def across_mm(heel_stitches: Any, closing_stitches: Any, stitches_per_10cm: Any) -> Any:
    """Return the part of the girth that does not depend on depth, in mm."""
    return (heel_stitches / 2 + closing_stitches / 2) * 100 / stitches_per_10cm


def girth_mm(across: Any, depth_mm: Any) -> Any:
    """Return the fabric around the heel diagonal in mm."""
    return across + 2 * depth_mm


def diagonal_ease(girth: Any, heel_diagonal_mm: Any) -> Any:
    """Return girth over heel diagonal less 1; negative where the fabric is stretched.

    >>> round(diagonal_ease(girth_mm(across_mm(64, 16, 30), 60), 310), 3)
    -0.183
    """
    return girth / heel_diagonal_mm - 1


def ideal_depth_mm(heel_diagonal_mm: Any, across: Any, ease: float = IDEAL_DIAGONAL_EASE) -> Any:
    """Return the depth in mm at which the diagonal ease is `ease`."""
    return (heel_diagonal_mm * (1 + ease) - across) / 2


def ideal_depth_sd_mm(heel_diagonal_sd_mm: Any, ease: float = IDEAL_DIAGONAL_EASE) -> Any:
    """Return the sd in mm that an estimated heel diagonal leaves in the ideal depth."""
    return heel_diagonal_sd_mm * (1 + ease) / 2
