"""Checks across the columns of a row, made on all rows at once where most are right."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from models.actions.csv_chunks import Chunk
from models.domain.anthropometry import regression
from models.domain.errors import Fault, Invalid
from models.domain.foot import MEASUREMENT_NAMES
from models.domain.plausibility import ODD, require_plausible
from models.domain.schedule import Schedule
from models.domain.sections import COUNT_NAMES, decrease_rounds
from models.learning.missing import Rows, patterns


def check_rows(chunk: Chunk) -> None:
    """Note rows whose schedule cannot be knitted, whose foot cannot be, or whose size is alone.

    The arrays only find candidates; the words come from the same domain code that checks a single
    report, so that both ways in say the same.
    """
    for index in np.flatnonzero(~chunk.bad & _unknittable(chunk)):
        _explain(chunk, int(index), _build_schedule)
    for index in np.flatnonzero(~chunk.bad & _contradictory_feet(chunk)):
        _explain(chunk, int(index), _build_foot)
    if "size" in chunk.texts:
        _sizes_without_design(chunk)


def _explain(chunk: Chunk, index: int, build: Callable[[Chunk, int], object]) -> None:
    try:
        build(chunk, index)
    except Invalid as error:
        for fault in error.faults:
            chunk.add(index, fault)


def _each(chunk: Chunk) -> NDArray[np.float64]:
    given = chunk.numbers.get("decreases_per_round")
    return np.full(len(chunk.bad), 4.0) if given is None else np.nan_to_num(given, nan=4.0)


def _unknittable(chunk: Chunk) -> Rows:
    stitches, each = chunk.numbers["heel_stitches"], _each(chunk)
    remainder = stitches % each
    left = stitches - remainder - each * decrease_rounds(chunk.numbers)
    rows: Rows = (left < each) | ((remainder > 0) & (chunk.numbers["plain_rounds"] == 0))
    return rows


def _build_schedule(chunk: Chunk, index: int) -> object:
    counts = {name: int(chunk.numbers[name][index]) for name in COUNT_NAMES}
    return Schedule(int(chunk.numbers["heel_stitches"][index]), counts, int(_each(chunk)[index]))


def _contradictory_feet(chunk: Chunk) -> Rows:
    """Mark feet with a measurement far from what the others lead to expect."""
    rows = np.zeros(len(chunk.bad), dtype=bool)
    for here, taken in patterns(chunk.numbers):
        values = {name: chunk.numbers[name][here] for name in taken}
        for name in taken:
            expected = regression(name, frozenset(taken) - {name})
            rows[here] |= np.abs(values[name] - expected.predict(values)) > ODD * expected.sd
    return rows


def _build_foot(chunk: Chunk, index: int) -> object:
    values = {name: float(chunk.numbers[name][index]) for name in MEASUREMENT_NAMES}
    foot = {
        name: int(value) if value.is_integer() else value
        for name, value in values.items()
        if not np.isnan(value)
    }
    require_plausible(foot)
    return foot


def _sizes_without_design(chunk: Chunk) -> None:
    designs = chunk.texts.get("design", np.full(len(chunk.bad), None, dtype=object))
    for index, (design, size) in enumerate(zip(designs, chunk.texts["size"], strict=True)):
        if size is not None and design is None:
            wanted = "name the design it is a size of as well"
            chunk.add(index, Fault("size", size, wanted))
