"""Files of invented reports, and groups to take them into. Nobody in them exists."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import func, select

from models.actions import answer_file, export_reports, groups, import_reports
from models.actions.actor import Actor, operator
from models.actions.csv_chunks import read_chunks
from models.actions.file_outcome import FileRefused, Outcome
from models.actions.row_checks import check_rows
from models.domain.reports import USUAL_COLUMNS
from models.domain.roles import Role
from models.tables.engine import Database
from models.tables.people import Member

SOUND = {
    "reporter": "Alder",
    "foot_length_mm": 250,
    "foot_circumference_mm": 230,
    "heel_diagonal_mm": 315,
    "ankle_circumference_mm": 220,
    "yarn_weight": 1,
    "stitches_per_10cm": 30,
    "rounds_per_10cm": 42,
    "heel_stitches": 64,
    "plain_rounds": 3,
    "slow_decrease_rounds": 4,
    "medium_decrease_rounds": 4,
    "fast_decrease_rounds": 3,
    "fit_score": 0,
}
"""A report with nothing wrong in it; its reporter is invented."""

assert tuple(SOUND) == USUAL_COLUMNS


class Sheets:
    """Builds CSV files of reports: every row is the sound one with some cells changed."""

    sound: Mapping[str, Any] = SOUND
    headings = ",".join(SOUND)
    line = ",".join(map(str, SOUND.values()))

    def __init__(self, folder: Path) -> None:
        self._folder, self._numbers = folder, count(1)

    def of(self, *rows: Mapping[str, Any], **dialect: Any) -> str:
        """Return a file of rows, each given by what differs from the sound report."""
        names = list(dict.fromkeys([*SOUND, *(name for row in rows for name in row)]))
        out = io.StringIO()
        writer = csv.writer(out, **{"lineterminator": "\n", **dialect})
        writer.writerow(names)
        writer.writerows([{**SOUND, **row}.get(name, "") for name in names] for row in rows)
        return out.getvalue()

    def file(self, content: str | bytes) -> Path:
        """Return the path of a new file with some content."""
        path = self._folder / f"invented-{next(self._numbers)}.csv"
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return path

    def faults(self, content: str | bytes) -> list[str]:
        """Return what the checks of an import say of a file, without any database."""
        said: list[str] = []
        for chunk in read_chunks(self.file(content), import_reports.LAYOUT):
            check_rows(chunk)
            said += map(str, chunk.faults.first)
        return said


@dataclass(frozen=True)
class Pool:
    """A group in a database, its steward, and the verbs that files go through."""

    database: Database
    steward: Actor
    sheets: Sheets

    @property
    def group_id(self) -> str:
        return self.steward.group_id

    def take(self, content: str | bytes, *, keep_good: bool = False) -> Outcome:
        """Import a file in a transaction of its own."""
        with (
            import_reports.read_first(self.sheets.file(content)) as chunks,
            self.database.write.begin() as session,
        ):
            actor = operator(self.group_id)
            return import_reports.take_in(session, actor, chunks, keep_good=keep_good)

    def refusal(self, content: str | bytes) -> Outcome:
        """Return the outcome of a file that must be refused for its rows."""
        with pytest.raises(FileRefused) as refused:
            self.take(content)
        return refused.value.outcome

    def export(self) -> str:
        """Return all reports of the group as CSV."""
        return self.exported(export_reports.Form.CSV).decode()

    def exported(self, form: export_reports.Form, actor: Actor | None = None) -> bytes:
        """Return the reports that somebody sees, the operator unless named, as a file."""
        with self.database.read() as session:
            who = actor or operator(self.group_id)
            return b"".join(export_reports.exported(session, who, form))

    def answer(self, content: str, *, keep_good: bool = False) -> list[dict[str, str]]:
        """Return the rows of the answer file to a file of questions."""
        out = io.StringIO(newline="")
        with self.database.read() as session:
            answer_file.answer_file(
                session,
                operator(self.group_id),
                self.sheets.file(content),
                out,
                keep_good=keep_good,
            )
        return list(csv.DictReader(io.StringIO(out.getvalue())))

    def rows(self, table: Any) -> list[Any]:
        """Return the group's rows of a table."""
        with self.database.read() as session:
            return list(session.scalars(select(table).where(table.group_id == self.group_id)))

    def count(self, table: Any) -> int:
        """Return how many rows of a table the group has."""
        with self.database.read() as session:
            query = select(func.count()).select_from(table)
            return session.scalar(query.where(table.group_id == self.group_id)) or 0


@pytest.fixture
def sheets(tmp_path: Path) -> Sheets:
    return Sheets(tmp_path)


def found(database: Database, sheets: Sheets, name: str) -> Pool:
    """Found a group with an invented steward."""
    with database.write.begin() as session:
        group, person = groups.create_group(session, name, "Invented steward")
        member = session.scalar(select(Member.id).where(Member.person_id == person))
        steward = Actor(group.id, Role.STEWARD, member, "Invented steward")
    return Pool(database, steward, sheets)


@pytest.fixture
def founding(database: Database, sheets: Sheets) -> Iterator[Callable[..., Pool]]:
    """Yield a function that founds one more group, in this database or in another."""
    numbers = count(1)
    opened: list[Database] = []

    def one_more(url: str | None = None) -> Pool:
        if url is not None:
            opened.append(Database(url))
        where = database if url is None else opened[-1]
        return found(where, sheets, f"Invented group {next(numbers)}")

    yield one_more
    for other in opened:
        other.close()


@pytest.fixture
def pool(founding: Callable[..., Pool]) -> Pool:
    return founding()


@pytest.fixture
def socks() -> Callable[..., Iterable[dict[str, Any]]]:
    """Return a function that makes invented reports, always the same, which differ in all."""

    def made(number: int, reporters: int = 12) -> list[dict[str, Any]]:
        return [
            {
                "reporter": f"Invented {n % reporters}",
                "foot_length_mm": 235 + (7 * n) % 31 + n / 8,
                "foot_circumference_mm": 225 + (5 * n) % 17,
                "heel_diagonal_mm": "" if n % 3 == 0 else 310 + (3 * n) % 19 + 0.1,
                "ankle_circumference_mm": "" if n % 4 == 0 else 212 + n % 13,
                "yarn_weight": n % 3,
                "stitches_per_10cm": 28 + n % 5,
                "rounds_per_10cm": 40 + n % 3,
                "slow_decrease_rounds": n % 6,
                "fit_score": n % 5 - 2,
            }
            for n in range(number)
        ]

    return made
