"""Names and figures as pages say them."""

from __future__ import annotations

import re
from datetime import date
from math import floor

from models.domain.foot import MEASUREMENTS
from models.domain.quantities import (
    CLOSING_STITCHES,
    DECREASES_PER_ROUND,
    GAUGE,
    HEEL_STITCHES,
    YARN_WEIGHT,
    Quantity,
)
from models.domain.reports import AFTERWARDS
from models.domain.sections import SECTIONS
from models.domain.units import from_mm

IN_TWENTY = 20
"""Of how many heels a chance is told: as many as the dots that show it."""


def label(quantity: Quantity) -> str:
    """Return a quantity's name as people say it.

    >>> label(MEASUREMENTS[0]), label(GAUGE[0]), label(SECTIONS[2].count)
    ('foot length', 'stitches in 10 cm', 'medium decrease rounds')
    """
    name = quantity.name.removesuffix("_mm").replace("_per_10cm", "_in_10_cm")
    return name.replace("slow_decrease", "slow-decrease").replace("_", " ")


_QUANTITIES = (
    *MEASUREMENTS,
    *GAUGE,
    YARN_WEIGHT,
    HEEL_STITCHES,
    CLOSING_STITCHES,
    *(section.count for section in SECTIONS),
    DECREASES_PER_ROUND,
    *AFTERWARDS,
)
_LABELS = {quantity.name: label(quantity) for quantity in _QUANTITIES}
_NAMES = re.compile(rf"\b({'|'.join(_LABELS)})\b")


def spoken(text: str) -> str:
    """Return a sentence of the domain with the names of fields as people say them.

    >>> spoken("foot_length_mm is 98: looks like inches given as centimetres")
    'Foot length is 98: looks like inches given as centimetres'
    """
    said = _NAMES.sub(lambda found: _LABELS[found[0]], text)
    return said[:1].upper() + said[1:]


def in_twenty(chance: float) -> int:
    """Return of how many heels in twenty a chance speaks."""
    return round(chance * IN_TWENTY)


def chance_in_words(chance: float) -> str:
    """Return a chance as a count of heels.

    >>> chance_in_words(0.61), chance_in_words(0.01), chance_in_words(0.99)
    ('about 12 in 20', 'fewer than 1 in 20', 'nearly all')
    """
    count = in_twenty(chance)
    if count == 0:
        return f"fewer than 1 in {IN_TWENTY}"
    return "nearly all" if count == IN_TWENTY else f"about {count} in {IN_TWENTY}"


def length(value_mm: float, unit: str) -> str:
    """Return a length in mm or, for those who measure in inches, in inches.

    A length that was rounded to a tenth of a millimetre before reads like one that was not.

    >>> length(73.8, "cm"), length(73.8, "in"), length(94.545, "cm"), length(94.5, "cm")
    ('74 mm', '2.9 in', '95 mm', '95 mm')
    """
    tenths = round(value_mm, 1)
    if unit == "in":
        return f"{from_mm(tenths, 'in'):.1f} in"
    return f"{floor(tenths + 0.5)} mm"


def long_length(value_mm: float, unit: str) -> str:
    """Return the length of a foot as it is measured, in cm or inches.

    >>> long_length(248, "cm"), long_length(248, "in")
    ('24.8 cm', '9.8 in')
    """
    return f"{from_mm(value_mm, unit):.1f} {unit}"


def day(moment: date) -> str:
    """Return a day as people write it.

    >>> day(date(2026, 3, 1))
    '1 March 2026'
    """
    return f"{moment.day} {moment:%B %Y}"
