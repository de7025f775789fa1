"""Answering a file of questions with a file of suggestions, row by row."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import IO, Any

import numpy as np
from sqlalchemy.orm import Session

from models.actions.activations import active
from models.actions.actor import Actor
from models.actions.answers import answered
from models.actions.csv_chunks import Chunk, read_chunks
from models.actions.csv_columns import as_typed
from models.actions.csv_layout import Layout
from models.actions.file_outcome import FileRefused, Outcome
from models.actions.spreadsheet import safe_cell
from models.actions.suggestions import question_of
from models.domain.errors import Invalid
from models.domain.foot import MEASUREMENT_NAMES, MEASUREMENTS
from models.domain.policy import USUAL_PLAIN_ROUNDS
from models.domain.quantities import (
    CLOSING_STITCHES,
    DECREASES_PER_ROUND,
    GAUGE,
    HEEL_STITCHES,
    USUAL_DECREASES_PER_ROUND,
    YARN_WEIGHT,
)
from models.domain.roles import Action
from models.domain.sections import count_of
from models.learning.calibration import Calibration

LAYOUT = Layout(
    numbers=(
        *MEASUREMENTS,
        YARN_WEIGHT,
        *GAUGE,
        HEEL_STITCHES,
        CLOSING_STITCHES,
        count_of("medium"),
    ),
    texts={"case_id": 80},
    optional_numbers=(count_of("plain"), DECREASES_PER_ROUND),
)

ANSWER_COLUMNS = (
    "case_id",
    "slow_decrease_rounds",
    "chance_just_right",
    "low",
    "high",
    "depth_mm",
    "warnings",
)

_DEFAULTS = {
    count_of("plain").name: USUAL_PLAIN_ROUNDS,
    DECREASES_PER_ROUND.name: USUAL_DECREASES_PER_ROUND,
}


def answer_file(
    session: Session,
    actor: Actor,
    questions: Path,
    out: IO[str],
    *,
    keep_good: bool = False,
    progress: Callable[[int], None] = lambda _rows: None,
) -> Outcome:
    """Write a suggestion for every question of a CSV file; warnings are codes in one cell.

    Raises
    ------
    Invalid
        Where the file as a whole cannot be read.
    FileRefused
        Where questions are wrong and `keep_good` is not set; what was written must not be used.

    """
    actor.require(Action.ASK)
    _, fitted = active(session, actor.group_id)
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(ANSWER_COLUMNS)
    outcome = Outcome(geometry_alone=fitted.is_geometry)
    for chunk in read_chunks(questions, LAYOUT):
        writer.writerows(list(_answers(fitted, chunk)))
        outcome.tally(chunk)
        progress(len(chunk.bad))
    if outcome.left_out and not keep_good:
        raise FileRefused(outcome)
    return outcome


def _answers(fitted: Calibration, chunk: Chunk) -> Iterator[list[Any]]:
    """Yield the answers to the questions of a chunk that can be answered."""
    for index in np.flatnonzero(~chunk.bad).tolist():
        try:
            answer = answered(fitted, question_of(*_question(chunk, index)))
        except Invalid as error:
            for fault in error.faults:
                chunk.add(index, fault.without("foot"))
            continue
        codes = dict.fromkeys(warning["code"] for warning in answer["warnings"])
        yield [
            safe_cell(chunk.texts["case_id"][index]),
            *(answer[name] for name in ANSWER_COLUMNS[1:-1]),
            " ".join(codes),
        ]


def _question(chunk: Chunk, index: int) -> tuple[Mapping[str, Any], Mapping[str, float]]:
    """Return the fields and the foot of one row."""
    given = {name: float(values[index]) for name, values in chunk.numbers.items()}
    known = {name: value for name, value in given.items() if not np.isnan(value)}
    foot = {name: as_typed(known.pop(name)) for name in MEASUREMENT_NAMES if name in known}
    whole = {
        quantity.name: int(known[quantity.name])
        for quantity in (*LAYOUT.numbers, *LAYOUT.optional_numbers)
        if quantity.integer and quantity.name in known
    }
    return {**_DEFAULTS, **known, **whole}, foot
