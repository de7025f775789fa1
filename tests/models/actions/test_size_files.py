"""Size tables as CSV files and as workbooks. The designs in them are invented."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook, load_workbook

from models.actions import designs, size_files
from models.actions.actor import operator
from models.actions.file_outcome import FileRefused
from models.actions.size_files import MOST_ROWS
from models.actions.sizes import numbers_of, put_sizes, sizes_of
from models.domain.errors import Invalid
from models.domain.sizes import COLUMNS
from models.tables.socks import Design, Size

ROW = dict(
    zip(
        COLUMNS,
        ("S", 230, 250, 215, 235, 1, 30, 42, 60, 16, 4, 3, 3, None),
        strict=True,
    )
)


class Tables:
    """One design, and size tables for it."""

    def __init__(self, pool: Any, folder: Path) -> None:
        self.pool, self.folder = pool, folder
        with pool.database.write.begin() as session:
            actor = operator(pool.group_id)
            self.design_id, _ = designs.named(session, actor, "Invented fen heel", None)

    def take(self, path: Path) -> tuple[int, int]:
        rows = size_files.read_sizes(path)
        with self.pool.database.write.begin() as session:
            design = session.get_one(Design, self.design_id)
            return put_sizes(session, operator(self.pool.group_id), design, rows)

    def sizes(self) -> list[dict[str, Any]]:
        with self.pool.database.read() as session:
            design = session.get_one(Design, self.design_id)
            return [numbers_of(size) for size in sizes_of(session, design)]

    def file(self, *rows: dict[str, Any], book: bool = False) -> Path:
        """Return a new file of rows, each the sound one with some cells changed."""
        cells = [list(COLUMNS), *(list({**ROW, **row}.values()) for row in rows)]
        if book:
            return self.book(cells)
        path = self.folder / "sizes.csv"
        lines = (",".join("" if c is None else str(c) for c in line) for line in cells)
        path.write_text("\n".join(lines) + "\n")
        return path

    def book(self, cells: list[list[Any]]) -> Path:
        book = Workbook()
        for line in cells:
            book.active.append(line)
        path = self.folder / "sizes.xlsx"
        book.save(path)
        return path

    def exported(self, *, book: bool = False) -> Any:
        with self.pool.database.read() as session:
            design, actor = session.get_one(Design, self.design_id), operator(self.pool.group_id)
            if book:
                out = io.BytesIO()
                size_files.export_workbook(session, actor, design, out)
                return out
            text = io.StringIO()
            size_files.export_csv(session, actor, design, text)
            return text.getvalue()


@pytest.fixture
def tables(pool: Any, tmp_path: Path) -> Tables:
    return Tables(pool, tmp_path)


@pytest.mark.parametrize("book", [False, True], ids=["csv", "workbook"])
def test_a_table_goes_in_and_comes_out_in_its_order(tables, book) -> None:
    assert tables.take(tables.file({"label": "M"}, {"label": "S"}, book=book)) == (2, 0)
    assert [size["label"] for size in tables.sizes()] == ["M", "S"]
    out = tables.exported(book=book)
    path = tables.folder / ("again.xlsx" if book else "again.csv")
    path.write_bytes(out.getvalue() if book else out.encode())
    assert tables.take(path) == (0, 0)
    assert tables.take(tables.file({"slow_decrease_rounds": 4}, book=book)) == (0, 1)
    assert [size["label"] for size in tables.sizes()] == ["S", "M"]


def test_other_units_and_decimal_commas_are_read(tables) -> None:
    path = tables.folder / "cm.csv"
    names = [n.replace("_mm", "_cm" if "length" in n else "_in") for n in COLUMNS]
    cells = ["S", "23,5", "25", "8,5", "9", "1", "29,5", "42", "60", "16", "4", "3", "3", ""]
    path.write_text(";".join(names) + "\n" + ";".join(cells) + "\n")
    tables.take(path)
    (size,) = tables.sizes()
    assert size["foot_length_low_mm"] == 235
    assert size["foot_circumference_high_mm"] == pytest.approx(9 * 25.4)  # UCUM, [in_i] = 2.54 cm
    assert size["stitches_per_10cm"] == 29.5


@pytest.mark.parametrize("book", [False, True], ids=["csv", "workbook"])
def test_one_wrong_row_keeps_all_out_and_every_fault_names_row_and_column(tables, book) -> None:
    wrong = [
        {},
        {"label": "M", "heel_stitches": "sixty"},
        {"label": "L", "closing_stitches": 15},
        {"label": "S"},
    ]
    with pytest.raises(FileRefused) as refused:
        tables.take(tables.file(*wrong, book=book))
    said = [(fault.row, fault.fault.field) for fault in refused.value.outcome.faults]
    assert said == [(3, "heel_stitches"), (4, "closing_stitches"), (5, "label")]
    assert tables.sizes() == []


def test_no_formula_is_written_and_none_is_run(tables) -> None:
    tables.take(tables.file({"label": "'=1+1"}))
    assert [size["label"] for size in tables.sizes()] == ["=1+1"]
    assert "\n'=1+1," in tables.exported()
    sheet = load_workbook(tables.exported(book=True)).active
    assert (sheet["A2"].value, sheet["A2"].data_type) == ("'=1+1", "s")
    with pytest.raises(FileRefused) as refused:
        tables.take(tables.file({"foot_length_low_mm": "=200+30"}, book=True))
    (fault,) = refused.value.outcome.faults
    assert (fault.row, fault.fault.field) == (2, "foot_length_low_mm")


def test_a_workbook_that_takes_too_much_or_is_broken_is_refused(tables) -> None:
    far, book = tables.folder / "far.xlsx", Workbook()
    book.active["XFD1000"] = "invented"
    book.active["A1048576"] = "invented"
    book.save(far)
    with pytest.raises(Invalid, match=f"more than {MOST_ROWS:,} rows|delete empty rows"):
        tables.take(far)
    broken = tables.folder / "broken.xlsx"
    broken.write_bytes(b"PK\x03\x04 and nothing of the kind")
    with pytest.raises(Invalid, match="no workbook"):
        tables.take(broken)


def test_a_size_known_from_reports_alone_is_completed_and_stays_the_same_size(tables) -> None:
    with tables.pool.database.write.begin() as session:
        actor = operator(tables.pool.group_id)
        _, size_id = designs.named(session, actor, "Invented fen heel", "S")
    tables.take(tables.file({}))
    (size,) = tables.pool.rows(Size)
    assert (size.id, size.heel_stitches, size.position) == (size_id, 60, 1)


@pytest.mark.parametrize("cell", ["1e400", "-Infinity", "NaN", "1" + "0" * 400])
@pytest.mark.parametrize("column", ["heel_stitches", "foot_length_low_mm", "decreases_per_round"])
def test_what_no_number_can_hold_is_a_fault_of_its_cell(
    tables: Tables, column: str, cell: str
) -> None:
    with pytest.raises(FileRefused) as refused:
        tables.take(tables.file({column: cell}))
    assert {fault.fault.field for fault in refused.value.outcome.faults} == {column}
    assert tables.sizes() == []


def test_a_table_longer_than_a_workbook_may_be_is_refused_at_once(tables: Tables) -> None:
    with pytest.raises(Invalid, match=f"at most {MOST_ROWS} rows"):
        tables.take(tables.file(*[{"label": f"S{n}"} for n in range(MOST_ROWS + 1)]))
    assert tables.sizes() == []


UNREADABLE = "no workbook that can be read"
NOTHING = "it is empty; the first row must be headings"
LAUGHS = "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10}">' for n in range(1, 10))
NO_PARTS = {
    "no XML": ("xl/worksheets/sheet1.xml", "\0" * 100, UNREADABLE),
    "no end": ("xl/worksheets/sheet1.xml", "<worksheet>" * 1000, NOTHING),
    "no sheet": ("xl/worksheets/sheet1.xml", None, UNREADABLE),
    "unfolds in cells": (
        "xl/worksheets/sheet1.xml",
        f'<!DOCTYPE x [<!ENTITY l0 "ha">{LAUGHS}]><x>&l9;</x>',
        NOTHING,
    ),
    "unfolds in names": (
        "xl/workbook.xml",
        f'<!DOCTYPE x [<!ENTITY l0 "ha">{LAUGHS}]><x>&l9;</x>',
        UNREADABLE,
    ),
}


@pytest.mark.parametrize(("part", "content", "said"), NO_PARTS.values(), ids=NO_PARTS)
def test_a_workbook_with_a_part_that_is_none_is_refused(
    tables: Tables, part: str, content: str | None, said: str
) -> None:
    book = tables.file({}, book=True)
    with zipfile.ZipFile(book) as sound:
        parts = {name: sound.read(name) for name in sound.namelist() if name != part}
    with zipfile.ZipFile(book, "w") as spoiled:
        for name, kept in parts.items():
            spoiled.writestr(name, kept)
        if content is not None:
            spoiled.writestr(part, content)
    with pytest.raises(Invalid, match=said):
        tables.take(book)
