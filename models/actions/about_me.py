"""Everything that is kept about somebody, as JSON values and as CSV files."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime
from typing import IO, Any

import orjson
from sqlalchemy import Table, or_, select
from sqlalchemy.orm import Session

from models.actions import fates
from models.actions.erasing import Leaving
from models.actions.fates import Fate, references
from models.actions.spreadsheet import safe_cell
from models.tables.base import Base, now
from models.tables.learned import Calibration
from models.tables.people import Group, Member
from models.tables.socks import Design, Size

SECRETS = frozenset({"digest", "password_hash", "request_digest"})
"""Columns that are never given out: what is kept in place of tokens, codes and passwords."""

TOLD_OTHERWISE = frozenset({"calibrations", "job_pieces"})
"""Tables without rows of their own here: `learned_from` tells of the one; the other holds files, of
which an import's are about others and an export's are read from its job."""

NAMES: dict[str, tuple[str, Any, Any]] = {
    "group_id": ("group", Group.id, Group.name),
    "design_id": ("design", Design.id, Design.name),
    "size_id": ("size", Size.id, Size.label),
}
"""References that get the name of what they refer to beside them."""

_OTHERS = {"person_id", "issuer_id", "member_id", "reporter_id", "undone_by_id"}
"""References to people: where it is somebody else, that is not told."""

Kinds = dict[str, list[dict[str, Any]]]


def everything_about(session: Session, who: Leaving) -> dict[str, Any]:
    """Return all rows that an erasure would delete or detach, by table, and what was learned.

    `learned_from` lists the calibrations that rest on their reports, with the offset and the doubt
    that were stored with them, if any.
    """
    rows = fates.reached(session, who.start)
    found: Kinds = {}
    for table in Base.metadata.sorted_tables:
        if table.name not in TOLD_OTHERWISE and (conditions := list(_theirs(table, rows))):
            found[str(table.name)] = _rows(session, table, conditions, rows)
    learned = list(_learned_from(session, rows.get("members", set())))
    return {"exported_at": now(), **found, "learned_from": learned}


def write_csv(everything: Mapping[str, Any], out: IO[bytes]) -> None:
    """Write what `everything_about` returned as a zip archive of one CSV file a kind of rows."""
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for kind, rows in everything.items():
            if isinstance(rows, list):
                archive.writestr(f"{kind}.csv", _csv(rows))


def _theirs(table: Table, rows: fates.Rows) -> Iterator[Any]:
    """Yield the conditions under which a row is theirs, or tells of what they did."""
    if ids := rows.get(table.name):
        yield table.c.id.in_(ids)
    for column, parent in references(table, Fate.DETACH):
        if parent in ("members", "people") and rows.get(parent):
            yield column.in_(rows[parent])


def _rows(
    session: Session, table: Table, conditions: Sequence[Any], mine: fates.Rows
) -> list[dict[str, Any]]:
    columns = [column for column in table.columns if column.name not in SECRETS]
    query, shown = select(*columns).select_from(table), [str(column.name) for column in columns]
    for column in columns:
        if column.name in NAMES:
            label, key, name = NAMES[column.name]
            query = query.add_columns(name.label(label)).outerjoin(key.class_, key == column)
            shown.append(label)
    ordered = query.where(or_(*conditions)).order_by(table.c.id)
    people = mine.get("members", set()) | mine.get("people", set())
    return [_told(dict(zip(shown, row, strict=True)), people) for row in session.execute(ordered)]


def _told(row: dict[str, Any], people: set[str]) -> dict[str, Any]:
    """Return a row without saying who others are."""
    return {
        name: None if name in _OTHERS and value not in people else value
        for name, value in row.items()
    }


def _learned_from(session: Session, members: set[str]) -> Iterator[dict[str, Any]]:
    groups = select(Member.group_id).where(Member.id.in_(members))
    query = select(Calibration).where(Calibration.group_id.in_(groups)).order_by(Calibration.id)
    for row in session.scalars(query):
        if members & (row.people or {}).keys():
            about = {"group_id": row.group_id, "number": row.number, "created_at": row.created_at}
            yield about | _offset(row, members)


def _offset(row: Calibration, members: set[str]) -> dict[str, Any]:
    figures = (row.diagnostics or {}).get("figures") or {}
    for one in figures.get("unusual_reporters", ()):
        if one["member_id"] in members:
            return {"offset_sds": one["offset_sds"], "doubt": one["doubt"]}
    return {"offset_sds": None, "doubt": None}


def _csv(rows: Sequence[Mapping[str, Any]]) -> str:
    out = io.StringIO(newline="")
    if rows:
        writer = csv.DictWriter(out, list(rows[0]), lineterminator="\r\n")
        writer.writeheader()
        writer.writerows({name: _cell(value) for name, value in row.items()} for row in rows)
    return out.getvalue()


def _cell(value: Any) -> Any:
    if isinstance(value, date | datetime):
        return value.isoformat()
    return orjson.dumps(value).decode() if isinstance(value, dict | list) else safe_cell(value)
