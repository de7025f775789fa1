"""Numbers of the registries as forms send them."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping

from models.domain.errors import Fault, Invalid
from models.domain.quantities import Quantity
from models.domain.units import to_mm
from service.pages.typed import typed

Number = float | int


def read_numbers(
    form: Mapping[str, str], quantities: Iterable[Quantity], optional: Collection[Quantity] = ()
) -> dict[str, Number]:
    """Return what was typed for some quantities, and for optional ones where anything was.

    Lengths are in mm unless an entry names another unit.

    Raises
    ------
    Invalid
        Where an entry is no number that its quantity can be, or might be two of them.

    >>> from models.domain.foot import MEASUREMENTS
    >>> read_numbers({"foot_length_mm": "24,5 cm"}, MEASUREMENTS[:1])
    {'foot_length_mm': 245.0}

    """
    found: dict[str, Number] = {}
    faults: list[Fault] = []
    for quantity in (*quantities, *optional):
        text = form.get(quantity.name, "").strip()
        values = list(_meant(text, quantity))
        if len(values) == 1:
            found[quantity.name] = values[0]
        elif text or quantity not in optional:
            faults.append(Fault(quantity.name, text, quantity.wanted))
    if faults:
        raise Invalid(faults)
    return found


def _meant(text: str, quantity: Quantity) -> Iterator[Number]:
    """Yield what an entry may mean that the quantity can be."""
    said = typed(text)
    if said is None or (said.unit is not None and quantity.unit != "mm"):
        return
    for number in said.numbers:
        value = to_mm(number, said.unit) if said.unit else number
        whole = int(value) if quantity.integer and value.is_integer() else value
        if quantity.fault(whole) is None:
            yield whole
