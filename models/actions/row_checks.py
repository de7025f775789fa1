"""Checks across the columns of a row, made on all rows at once where most are right."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from models.actions.csv_chunks import Chunk
from models.actions.csv_columns import as_typed
from models.actions.designs import alone
from models.domain.anthropometry import regression
from models.domain.errors import Fault, Invalid
from models.domain.foot import MEASUREMENT_NAMES
from models.domain.gauge import USUAL_ROUNDS_PER_STITCH, Gauge, doubts_about_gauge
from models.domain.plausibility import (
    AGREES,
    ODD,
    doubts_about_foot,
    require_plausible,
    survey_score,
)
from models.domain.quantities import (
    DECREASES_PER_ROUND,
    HEEL_STITCHES,
    USUAL_DECREASES_PER_ROUND,
)
from models.domain.schedule import Schedule
from models.domain.sections import COUNT_NAMES, decrease_rounds
from models.domain.yarn import YARN_WEIGHTS, doubt_about_yarn
from models.learning.missing import Rows, patterns


def check_rows(chunk: Chunk) -> None:
    """Note what cannot be in a row: its schedule, its foot, a size alone; and what is unusual.

    Afterwards every row has its decreases per round.

    The arrays only find candidates; the words come from the same domain code that checks a single
    report, so that both ways in say the same.
    """
    _fill_usual(chunk)
    for index in np.flatnonzero(~chunk.bad & _unknittable(chunk)):
        _explain(chunk, int(index), _build_schedule)
    contradictory = _contradictory_feet(chunk)
    for index in np.flatnonzero(~chunk.bad & contradictory):
        _explain(chunk, int(index), _build_foot)
    if "size" in chunk.texts:
        _sizes_without_design(chunk)
    for unusual in np.flatnonzero(~chunk.bad & (contradictory | _unusual(chunk))):
        for fault in _doubts(chunk, int(unusual)):
            chunk.doubt(int(unusual), fault)


def _explain(chunk: Chunk, index: int, build: Callable[[Chunk, int], object]) -> None:
    try:
        build(chunk, index)
    except Invalid as error:
        for fault in error.faults:
            chunk.add(index, fault)


def _fill_usual(chunk: Chunk) -> None:
    """Put the usual decreases per round where a row names none."""
    given = chunk.numbers.get(DECREASES_PER_ROUND.name, np.full(len(chunk.bad), np.nan))
    filled = np.nan_to_num(given, nan=float(USUAL_DECREASES_PER_ROUND))
    chunk.numbers[DECREASES_PER_ROUND.name] = filled


def _unknittable(chunk: Chunk) -> Rows:
    stitches, each = chunk.numbers["heel_stitches"], chunk.numbers[DECREASES_PER_ROUND.name]
    remainder = stitches % each
    left = stitches - remainder - each * decrease_rounds(chunk.numbers)
    rows: Rows = (left < each) | ((remainder > 0) & (chunk.numbers["plain_rounds"] == 0))
    return rows


def _build_schedule(chunk: Chunk, index: int) -> object:
    names = (HEEL_STITCHES.name, DECREASES_PER_ROUND.name)
    stitches, each = (int(chunk.numbers[name][index]) for name in names)
    counts = {name: int(chunk.numbers[name][index]) for name in COUNT_NAMES}
    return Schedule(stitches, counts, each)


def _contradictory_feet(chunk: Chunk) -> Rows:
    """Mark feet with a measurement far from what the others lead to expect."""
    rows = np.zeros(len(chunk.bad), dtype=bool)
    for here, taken in patterns(chunk.numbers):
        values = {name: chunk.numbers[name][here] for name in taken}
        for name in taken:
            expected = regression(name, frozenset(taken) - {name})
            rows[here] |= np.abs(values[name] - expected.predict(values)) > ODD * expected.sd
    return rows


def _build_foot(chunk: Chunk, index: int) -> dict[str, float]:
    values = {name: float(chunk.numbers[name][index]) for name in MEASUREMENT_NAMES}
    foot = {name: as_typed(value) for name, value in values.items() if not np.isnan(value)}
    require_plausible(foot)
    return foot


def _unusual(chunk: Chunk) -> Rows:
    """Mark rows with a number that `_doubts` may have words for."""
    rows = np.zeros(len(chunk.bad), dtype=bool)
    for name in MEASUREMENT_NAMES:
        rows |= np.abs(survey_score(name, chunk.numbers[name])) > AGREES
    stitches, rounds = chunk.numbers["stitches_per_10cm"], chunk.numbers["rounds_per_10cm"]
    low, high = USUAL_ROUNDS_PER_STITCH
    rows |= (rounds < low * stitches) | (rounds > high * stitches)
    for weight in YARN_WEIGHTS:
        least, most = weight.usual_for_socks
        here = chunk.numbers["yarn_weight"] == weight.number
        rows |= here & ((stitches < least) | (stitches > most))
    return rows


def _doubts(chunk: Chunk, index: int) -> list[Fault]:
    stitches, rounds = (
        as_typed(float(chunk.numbers[name][index]))
        for name in ("stitches_per_10cm", "rounds_per_10cm")
    )
    weight = int(chunk.numbers["yarn_weight"][index])
    unusual = doubt_about_yarn(weight, stitches)
    return [
        *doubts_about_foot(_build_foot(chunk, index)),
        *doubts_about_gauge(Gauge(stitches, rounds)),
        *([unusual] if unusual else []),
    ]


def _sizes_without_design(chunk: Chunk) -> None:
    designs = chunk.texts.get("design", np.full(len(chunk.bad), None, dtype=object))
    for index, (design, size) in enumerate(zip(designs, chunk.texts["size"], strict=True)):
        if size is not None and design is None:
            chunk.add(index, alone(size))
