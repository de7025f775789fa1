"""Numbers as people type them: decimal commas, fractions, spaces around, a unit behind."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

LONGEST = 40
"""Characters of an entry; nothing that a knitter measures takes more."""

UNITS = {
    "mm": "mm",
    "cm": "cm",
    "in": "in",
    "inch": "in",
    "inches": "in",
    '"': "in",
    "''": "in",
}
"""Ways to write a unit, with its name in `models.domain.units`."""

_WHOLE = re.compile(r"(?P<number>.*?)\s*(?P<unit>mm|cm|in|inch|inches|\"|'')?\.?", re.IGNORECASE)
_DECIMAL = re.compile(r"\d+([.,]\d*)?|[.,]\d+")
_FRACTION = re.compile(r"(?:(\d+)(?:\s+|\s*-\s*))?(\d+)\s*/\s*(\d+)")
_GROUPED = re.compile(r"[1-9]\d{0,2}[.,]\d{3}")
_QUOTES = str.maketrans(
    {
        "\N{DOUBLE PRIME}": '"',
        "\N{RIGHT DOUBLE QUOTATION MARK}": '"',
        "\N{LEFT DOUBLE QUOTATION MARK}": '"',
        "\N{RIGHT SINGLE QUOTATION MARK}": "'",
        "\N{PRIME}": "'",
        "\N{FRACTION SLASH}": "/",
    }
)


@dataclass(frozen=True)
class Typed:
    """What an entry says: the numbers it may mean, the likelier first, and the unit it names.

    There are two numbers where a separator before three digits may group thousands.
    """

    numbers: tuple[float, ...]
    unit: str | None = None


def typed(text: str) -> Typed | None:
    """Return what an entry says, or None where it is no number.

    >>> typed(" 24,5 "), typed("24.5 cm")
    (Typed(numbers=(24.5,), unit=None), Typed(numbers=(24.5,), unit='cm'))
    >>> typed('9½"') == typed("9 1/2 in")
    True
    >>> typed("1,238").numbers, typed("about 24")
    ((1.238, 1238.0), None)
    """
    found = _WHOLE.fullmatch(_plain(text)) if len(text) <= LONGEST else None
    if found is None:
        return None
    numbers = _numbers(found["number"])
    unit = UNITS[found["unit"].lower()] if found["unit"] else None
    return Typed(numbers, unit) if numbers else None


def _plain(text: str) -> str:
    """Return an entry with fractions, quotes and wide digits written plainly."""
    apart = "".join(
        f" {char}" if unicodedata.decomposition(char).startswith("<fraction>") else char
        for char in text
    )
    return unicodedata.normalize("NFKC", apart.translate(_QUOTES)).translate(_QUOTES).strip()


def _numbers(text: str) -> tuple[float, ...]:
    if fraction := _FRACTION.fullmatch(text):
        whole, part, of = (int(digits or 0) for digits in fraction.groups())
        return (whole + part / of,) if of else ()
    if not _DECIMAL.fullmatch(text):
        return ()
    decimal = float(text.replace(",", "."))
    return (decimal, float(re.sub("[.,]", "", text))) if _GROUPED.fullmatch(text) else (decimal,)
