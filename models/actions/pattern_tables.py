"""A design's heel for all sizes, ready for its pattern, in plain forms."""

from __future__ import annotations

import csv
import io

from sqlalchemy.orm import Session

from models.actions.actor import Actor
from models.actions.sizes import numbers_of, sizes_of, unknown
from models.actions.spreadsheet import safe_cell
from models.domain.care import CAUTIONS
from models.domain.errors import Fault, Invalid
from models.domain.pattern_table import Line, pattern_table
from models.domain.roles import Action
from models.domain.sizes import SLOW, policy_of
from models.tables.socks import Design


def lines_of(session: Session, actor: Actor, design: Design) -> list[Line]:
    """Return the lines of a design's table, from what its sizes have today.

    Raises
    ------
    Invalid
        Where enough is known of none of its sizes.

    """
    actor.require(Action.READ_GROUP)
    sizes = [numbers_of(size) for size in sizes_of(session, design) if not unknown(size)]
    if not sizes:
        raise Invalid([Fault("sizes", 0, "add sizes with their gauge and stitches first")])
    return pattern_table({s["label"]: policy_of(s).schedule(s[SLOW.name]) for s in sizes})


def as_csv(lines: list[Line]) -> str:
    """Return a table as CSV: one line a row, one size a column."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["size", *map(safe_cell, lines[0].values)])
    writer.writerows([safe_cell(line.title), *line.values.values()] for line in lines)
    return out.getvalue()


def as_text(name: str, lines: list[Line]) -> str:
    """Return a table as plain text, as a pattern would print it."""
    return "\n".join([name, "", *map(str, lines), "", *CAUTIONS]) + "\n"
