"""Workbooks of reports: read by the rules of CSV, hostile ones refused, written the same again.

The reference reader and writer is openpyxl. All reports are invented.
"""

from __future__ import annotations

import csv
import io
import re
import zipfile
from collections.abc import Callable
from contextlib import suppress
from datetime import date, datetime
from typing import Any

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook, load_workbook

from models.actions.export_reports import COLUMNS, Form
from models.actions.report_template import template_csv, template_workbook
from models.actions.reports import record_report
from models.actions.workbook import as_csv, write_workbook
from models.domain.errors import Invalid
from models.domain.report_columns import EXAMPLE, explained
from models.domain.reports import USUAL_COLUMNS
from models.tables.socks import Report

FORMULA_STARTS = ("=", "+", "-", "@", "\t")
"""OWASP ASVS 5.0, 1.2.10; it names the null character too, which cannot be stored."""

PAYLOADS = [
    "=1+1",
    "+1+1",
    "-1+1",
    "@SUM(A1:A2)",
    "=HYPERLINK(A1)",
    "=cmd|' /C calc'!A0",
    "'=1+1",
    "-",
    "=",
]
"""Beginnings that spreadsheets take for formulas (common practice, no source)."""


def book_of(*rows: list[Any]) -> bytes:
    """Return a workbook as somebody else's program writes it."""
    book = Workbook()
    for row in rows:
        book.active.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def written(*rows: list[Any]) -> bytes:
    out = io.BytesIO()
    write_workbook({"reports": rows}, out)
    return out.getvalue()


@pytest.fixture
def book(pool: Any) -> Callable[..., bytes]:
    """Return a function that makes a workbook of sound reports, each with some cells changed."""

    def made(*changes: dict[str, Any]) -> bytes:
        names = list(dict.fromkeys([*pool.sheets.sound, *(n for one in changes for n in one)]))
        rows = [[{**pool.sheets.sound, **one}.get(name) for name in names] for one in changes]
        return book_of(names, *rows)

    return made


def test_a_workbook_gives_the_same_reports_as_its_csv(founding, socks) -> None:
    one, two = founding(), founding()
    rows = [{**row, "notes": "fits; 24,5 \u00fc"} for row in socks(30)]
    one.take(one.sheets.of(*rows))
    names = list({**one.sheets.sound, "notes": ""})
    cells = [[{**one.sheets.sound, **row}[name] or None for name in names] for row in rows]
    scores = [[0 if cell is None else cell for cell in line[-2:-1]] for line in cells]
    sheet = [[*line[:-2], *score, line[-1]] for line, score in zip(cells, scores, strict=True)]
    yarn = names.index("yarn_weight")
    slow = names.index("slow_decrease_rounds")
    for line in sheet:
        line[yarn], line[slow] = line[yarn] or 0, line[slow] or 0
    assert two.take(book_of(names, *sheet)).used == 30
    assert two.export() == one.export()


def test_what_spreadsheets_make_of_cells_is_read(pool, book) -> None:
    cells = {
        "foot_length_mm": "24,75",
        "knitted_on": datetime(2025, 11, 2),
        "stitches_per_10cm": 30.0,
        "notes": "two\nlines",
    }
    content = book(cells)
    path = pool.sheets.file(content)
    with as_csv(path) as file:
        text = file.read_text().replace("foot_length_mm", "foot_length_cm")
    pool.take(text)
    (report,) = pool.rows(Report)
    assert (report.knitted_on, report.notes) == (date(2025, 11, 2), "two\nlines")
    assert report.stitches_per_10cm == 30


def test_faults_name_the_row_and_the_column_as_the_spreadsheet_shows_them(pool, book) -> None:
    outcome = pool.refusal(book({}, {"fit_score": 9}, {"heel_stitches": "sixty"}))
    assert [str(fault) for fault in outcome.faults] == [
        "row 3: fit_score is 9: it must be a whole number from -2 to 2",
        "row 4: heel_stitches is 'sixty': it must be a whole number from 8 to 400 (stitches)",
    ]


@pytest.mark.parametrize("value", [1e30, 10**30, True, "nan", "1e400", "#DIV/0!"])
def test_cells_that_are_no_such_number_are_named(pool, book, value: Any) -> None:
    outcome = pool.refusal(book({"foot_length_mm": value}))
    assert [(one.row, one.fault.field) for one in outcome.faults] == [(2, "foot_length_mm")]
    assert pool.count(Report) == 0


def test_a_formula_without_a_saved_value_is_named_where_a_value_is_needed(pool, book) -> None:
    unsaved = {"foot_length_mm": "=200+48", "reporter": "=A1", "heel_diagonal_mm": "=300+15"}
    outcome = pool.refusal(book({}, unsaved))
    said = [(one.row, one.fault.field, one.fault.value) for one in outcome.faults]
    value = "formula without a saved value"
    assert said == [(3, "foot_length_mm", value), (3, "reporter", value)]


def test_a_formula_without_a_saved_value_is_an_empty_cell_where_none_is_needed(pool, book) -> None:
    unsaved = dict.fromkeys(("heel_diagonal_mm", "knitted_on", "notes"), "=1+1")
    assert pool.take(book(unsaved)).used == 1
    (report,) = pool.rows(Report)
    assert (report.knitted_on, report.notes) == (None, None)


def test_an_error_of_a_formula_is_no_empty_cell(pool, book) -> None:
    outcome = pool.refusal(book({}, {"heel_diagonal_mm": "#N/A"}, {"knitted_on": "#REF!"}))
    said = [(one.row, one.fault.field, one.fault.value) for one in outcome.faults]
    assert said == [(3, "heel_diagonal_mm", "#N/A"), (4, "knitted_on", "#REF!")]


def test_a_formula_counts_as_the_value_that_was_saved_with_it(pool, book) -> None:
    content = book({"foot_length_mm": "=200+48"})
    with zipfile.ZipFile(io.BytesIO(content)) as parts:
        sheet = parts.read(SHEET).replace(b"<f>200+48</f><v />", b"<f>200+48</f><v>248</v>")
    assert b"<v>248</v>" in sheet
    assert pool.take(repacked(content, SHEET, sheet)).used == 1


TEXTS = st.text(
    st.characters(exclude_categories=("Cc", "Cs"), include_characters="\n\t\ufffe\uffff"),
    min_size=1,
    max_size=40,
).filter(str.strip)
"""Not blank: a cell of white space alone counts as empty."""


@given(st.lists(TEXTS | st.sampled_from(["_x0041_", "_x005F_", "_xD800_", "_x0000_", *PAYLOADS])))
@settings(max_examples=30, deadline=None)
def test_any_text_comes_back_from_a_workbook_as_it_was(tmp_path_factory, texts) -> None:
    path = tmp_path_factory.mktemp("book") / "book.xlsx"
    path.write_bytes(written(["text"], *([text] for text in texts)))
    sheet = load_workbook(path).active
    assert {cell.data_type for row in sheet.iter_rows() for cell in row} <= {"s"}
    with as_csv(path) as file, file.open(newline="") as read:
        again = [row[0] if row else "" for row in csv.reader(read)][1:]
    assert again == texts


def test_the_same_rows_give_the_same_bytes_at_another_time(monkeypatch) -> None:
    class Later(datetime):
        @classmethod
        def now(cls, tz=None):
            return datetime(2031, 5, 6, 7, 8, 9, tzinfo=tz)

    before = written(["a"], ["b"], [2.5])
    for module in ("openpyxl.packaging.core", "openpyxl.writer.excel"):
        if hasattr(__import__(module, fromlist=["datetime"]).datetime, "datetime"):
            monkeypatch.setattr(f"{module}.datetime.datetime", Later)
    monkeypatch.setattr("time.localtime", lambda *_: (2031, 5, 6, 7, 8, 9, 0, 0, 0))
    assert written(["a"], ["b"], [2.5]) == before


@pytest.mark.parametrize("form", [Form.CSV, Form.XLSX])
def test_an_export_taken_in_by_an_empty_group_is_exported_the_same(founding, socks, form) -> None:
    one, two = founding(), founding()
    extra = {"knitted_on": "2025-11-02", "times_worn": 3, "size": "M"}
    rows = [
        {**row, **extra, "notes": text, "design": text, "reporter": f"{text} of {row['reporter']}"}
        for row, text in zip(socks(len(PAYLOADS)), PAYLOADS, strict=True)
    ]
    safe = [{k: f"'{v}" if v in PAYLOADS else v for k, v in row.items()} for row in rows]
    assert one.take(one.sheets.of(*safe)).used == len(PAYLOADS)
    assert two.take(one.exported(form)).used == len(PAYLOADS)
    for each in Form:
        assert two.exported(each) == one.exported(each)


def test_days_before_1900_and_after_are_kept(founding) -> None:
    one, two = founding(), founding()
    days = ["0001-01-01", "1899-12-31", "1900-01-01", "1900-02-28", "1900-03-01", "2025-11-02"]
    one.take(one.sheets.of(*({"knitted_on": day} for day in days)))
    two.take(one.exported(Form.XLSX))
    assert sorted(str(report.knitted_on) for report in two.rows(Report)) == days
    assert two.exported(Form.XLSX) == one.exported(Form.XLSX)


def recorded(pool: Any) -> None:
    """Record one sound report for every payload, with it in every text."""
    sock = {k: v for k, v in pool.sheets.sound.items() if not k.endswith("_mm")}
    foot = {"foot_length_mm": 250.5, "foot_circumference_mm": 230}
    with pool.database.write.begin() as session:
        for text in PAYLOADS:
            texts = {"reporter": text, "notes": f"{text}\n{text}", "design": text, "size": text}
            record_report(session, pool.steward, {**sock, **texts, "foot": foot})


def test_reference_readers_find_no_formula_and_numbers_that_are_numbers(pool) -> None:
    recorded(pool)
    frame = pd.read_csv(io.BytesIO(pool.exported(Form.CSV)), keep_default_na=False)
    assert list(frame.columns) == list(COLUMNS)
    for name in ("reporter", "notes", "design", "size"):
        assert not [text for text in frame[name] if text.startswith(FORMULA_STARTS)]
    assert frame["fit_score"].dtype == "int64"
    assert frame["foot_length_mm"].tolist() == [250.5] * len(PAYLOADS)
    sheet = load_workbook(io.BytesIO(pool.exported(Form.XLSX))).active
    kinds = {cell.data_type for row in sheet.iter_rows(min_row=2) for cell in row}
    assert kinds == {"s", "n"}
    assert sheet["B2"].value == 250.5
    lines = pd.read_json(io.BytesIO(pool.exported(Form.JSONL)), lines=True)
    assert lines["reporter"].tolist() == PAYLOADS
    assert lines["foot_length_mm"].tolist() == [250.5] * len(PAYLOADS)


def test_a_steward_exports_what_she_wrote_down_and_a_knitter_her_own(pool, socks) -> None:
    pool.take(pool.sheets.of(*socks(4)))
    own = pool.exported(Form.CSV, pool.steward).decode().splitlines()
    assert len(own) == 5
    knitter = type(pool.steward)(pool.group_id, "knitter", "0" * 32, "Nobody")
    assert pool.exported(Form.CSV, knitter).decode().splitlines() == [",".join(COLUMNS)]


@pytest.mark.parametrize("content", [template_csv(), template_workbook()], ids=["csv", "xlsx"])
def test_the_template_can_be_taken_in_as_it_is_and_its_row_is_doubted(pool, content) -> None:
    outcome = pool.take(content)
    assert outcome.used == 1
    assert "the invented row of the template" in str(outcome.doubts[0])
    assert pool.export().splitlines()[1] == template_csv().decode().splitlines()[1]


def test_the_template_explains_every_column() -> None:
    book = load_workbook(io.BytesIO(template_workbook()))
    assert book.sheetnames == ["reports", "columns"]
    rows = list(book["columns"].iter_rows(min_row=2, values_only=True))
    assert [row[0] for row in rows] == list(COLUMNS) == [column.name for column in explained()]
    assert all(all(row) for row in rows)
    assert set(USUAL_COLUMNS) <= set(EXAMPLE) <= set(COLUMNS)


def repacked(content: bytes, name: str, data: bytes) -> bytes:
    """Return a workbook with one of its parts replaced."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as parts, zipfile.ZipFile(out, "w") as new:
        for part in parts.namelist():
            new.writestr(part, data if part == name else parts.read(part))
    return out.getvalue()


SHEET = "xl/worksheets/sheet1.xml"
SHARED = (
    b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
    b'<row r="1"><c r="A1" t="s"><v>7</v></c></row></sheetData></worksheet>'
)
"""A cell that is the eighth text of a table which is not there."""
LAUGHS = (
    '<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa">'
    + "".join(
        f'<!ENTITY {b} "{f"&{a};" * 10}">' for a, b in zip("abcdefgh", "bcdefghi", strict=True)
    )
    + "]><sst>&i;</sst>"
).encode()
"""Entities that grow to a billion letters (Python's documentation, XML vulnerabilities)."""


@pytest.mark.parametrize(
    ("part", "data"),
    [
        (SHEET, b""),
        (SHEET, b"<worksheet><sheetData><row><c"),
        (
            SHEET,
            b"<worksheet><sheetData><row r='x'><c r='A1'/></row></sheetData></worksheet>",
        ),
        (SHEET, b"\xff\xfe\x00"),
        (SHEET, LAUGHS),
        ("xl/styles.xml", LAUGHS),
        (SHEET, SHARED),
        ("xl/workbook.xml", b"<workbook/>"),
        ("xl/workbook.xml", b"not xml"),
        ("xl/styles.xml", b"<styleSheet"),
    ],
)
def test_a_workbook_with_a_spoiled_part_is_refused_or_has_nothing(pool, book, part, data) -> None:
    with pytest.raises(Invalid) as refused:
        pool.take(repacked(book({}), part, data))
    (fault,) = refused.value.faults
    assert fault.field in ("file", "heading")
    assert pool.count(Report) == 0


SMALL = written(["reporter", "notes"], ["Alder", 3], ["Birch", 4])


@given(st.dictionaries(st.integers(4, len(SMALL) - 1), st.integers(0, 255), min_size=1, max_size=4))
@settings(max_examples=50, deadline=None)
def test_a_workbook_with_bytes_changed_is_read_or_refused(tmp_path_factory, changes) -> None:
    content = bytearray(SMALL)
    for place, byte in changes.items():
        content[place] = byte
    path = tmp_path_factory.mktemp("changed") / "changed.xlsx"
    path.write_bytes(bytes(content))
    with suppress(Invalid), as_csv(path, 10) as file:
        assert file.read_text().count("\n") <= 10


def test_more_rows_than_are_read_are_refused(pool, book) -> None:
    path = pool.sheets.file(book(*[{}] * 9))
    with pytest.raises(Invalid, match="more than 5 rows"), as_csv(path, 5):
        pass
    with as_csv(path, most=3) as file:
        assert len(re.findall("\n", file.read_text())) == 3
