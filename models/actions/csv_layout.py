"""Which columns a CSV file has: names, units in their endings, what is missing or too many."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches

from models.domain.errors import Fault, Invalid
from models.domain.quantities import Quantity
from models.domain.reports import OPTIONAL_COLUMNS, USUAL_COLUMNS
from models.domain.units import MM_PER_UNIT

_LENGTH = "_mm"

_OF_SOME_FILE = frozenset((*USUAL_COLUMNS, *OPTIONAL_COLUMNS, "case_id", "closing_stitches"))
"""Columns of any kind of file: one in the wrong kind is no slip of spelling."""


@dataclass(frozen=True)
class Layout:
    """The columns a kind of file must and may have.

    `texts` and `optional_texts` map a column to its longest text, in characters.
    """

    numbers: tuple[Quantity, ...]
    texts: dict[str, int]
    optional_numbers: tuple[Quantity, ...] = ()
    optional_texts: tuple[tuple[str, int], ...] = ()
    optional_days: tuple[str, ...] = ()

    @property
    def required_names(self) -> tuple[str, ...]:
        """Columns that must be there."""
        return (*self.texts, *(quantity.name for quantity in self.numbers if quantity.required))

    @property
    def text_names(self) -> frozenset[str]:
        """Columns that are read as text."""
        return frozenset((*self.texts, *dict(self.optional_texts), *self.optional_days))

    @property
    def names(self) -> tuple[str, ...]:
        """Every column there can be, lengths in mm."""
        return (
            *self.texts,
            *(quantity.name for quantity in (*self.numbers, *self.optional_numbers)),
            *(name for name, _ in self.optional_texts),
            *self.optional_days,
        )


@dataclass(frozen=True)
class Column:
    """A column of a file: its heading, the name it stands for, and the unit of its numbers."""

    heading: str
    name: str
    unit: str = "mm"

    @property
    def factor(self) -> float:
        """What turns a number of this column into the registry's unit."""
        return MM_PER_UNIT[self.unit]


def matched(headings: Sequence[str], layout: Layout) -> dict[str, Column]:
    """Return the columns of a file by name.

    Raises
    ------
    Invalid
        Where a column is missing, unknown or there twice.

    """
    if not any(_column(heading.strip().lower(), heading, layout) for heading in headings):
        wanted = f"the first row must be headings; columns are {', '.join(layout.names)}"
        raise Invalid([Fault("heading", headings[0], wanted)])
    faults: list[Fault] = []
    found: dict[str, Column] = {}
    for heading in headings:
        column = _column(heading.strip().lower(), heading, layout)
        if column is None:
            faults.append(Fault("heading", heading, _closest(heading, layout)))
        elif column.name in found:
            twice = f"{found[column.name].heading} gives the same; keep one of them"
            faults.append(Fault("heading", heading, twice))
        else:
            found[column.name] = column
    faults += [
        Fault(name, None, f"the file needs a column {name}")
        for name in layout.required_names
        if name not in found
    ]
    if faults:
        raise Invalid(faults)
    return found


def _column(name: str, heading: str, layout: Layout) -> Column | None:
    if name in layout.names:
        return Column(heading, name)
    stem, _, unit = name.rpartition("_")
    if unit in MM_PER_UNIT and stem + _LENGTH in layout.names:
        return Column(heading, stem + _LENGTH, unit)
    return None


def _closest(heading: str, layout: Layout) -> str:
    name = heading.strip().lower()
    if name in _OF_SOME_FILE:
        return "this kind of file has no such column"
    begins = [known for known in layout.names if name and known.startswith(f"{name}_")]
    near = begins or get_close_matches(name, layout.names, n=1)
    return f"did you mean {near[0]}?" if near else f"columns are {', '.join(layout.names)}"
