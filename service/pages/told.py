"""What was typed, as the page that checks it tells it."""

from __future__ import annotations

from models.domain.policy import Policy
from models.domain.quantities import GAUGE, YARN_WEIGHT, Quantity
from models.domain.yarn import YARN_WEIGHTS
from service.pages.kept import WIDTHS, Kept
from service.pages.words import label


def asked_for(quantity: Quantity, width: str) -> str:
    """Return what a field asks for; a gauge is told over the width that it was counted on.

    >>> asked_for(GAUGE[0], "4in")
    'Stitches in 4 in'
    """
    if quantity in GAUGE:
        count, unit = WIDTHS[width]
        return f"{label(quantity).split()[0]} in {count:g} {unit}".capitalize()
    return label(quantity).capitalize()


def told(kept: Kept, quantity: Quantity, proposed: Policy | None) -> str:
    """Return an entry as it was typed, with its unit or name; say where there is none."""
    entry = kept.entries.get(quantity.name)
    if entry is None:
        offered = getattr(proposed, quantity.name, None)
        return f"{offered}, as proposed" if offered is not None else "nothing yet"
    if not entry.text.strip():
        return "nothing yet" if quantity.required else "left out"
    return _weight(entry.text) if quantity is YARN_WEIGHT else entry.whole


def _weight(number: str) -> str:
    names = {str(weight.number): weight.name for weight in YARN_WEIGHTS}
    return f"{number}, {names[number]}" if number in names else number
