"""Fieller's interval for a ratio of two correlated normal estimates.

References
----------
Fieller 1954, J. R. Stat. Soc. B 16:175. `g >= 1` means that the denominator's sign is not
established: there is no finite interval, and no honest answer has one.

"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Ratio:
    """Estimates of numerator and denominator with their variances and covariance.

    Many ratios may share one denominator: then what concerns the numerator is an array.
    """

    numerator: Any
    denominator: float
    v_numerator: Any
    covariance: Any
    v_denominator: float

    def g(self, z: float) -> float:
        """Return z^2 times the squared relative standard error of the denominator."""
        return z**2 * self.v_denominator / self.denominator**2

    def interval(self, z: float) -> tuple[Any, Any] | None:
        """Return the interval at z standard errors, or None where it is not finite.

        >>> low, high = Ratio(10, 2, 1, 0, 0.04).interval(1.959964)
        >>> round(low, 6), round(high, 6)
        (3.772385, 6.627107)
        """
        if self.denominator == 0 or self.g(z) >= 1:
            return None
        a = self.denominator**2 - z**2 * self.v_denominator
        b = self.numerator * self.denominator - z**2 * self.covariance
        c = self.numerator**2 - z**2 * self.v_numerator
        # Only rounding can make it negative.
        half = abs(b**2 - a * c) ** 0.5
        return (b - half) / a, (b + half) / a
