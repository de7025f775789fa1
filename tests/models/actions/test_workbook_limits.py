"""Workbooks that would burn a server end a process of their own, and are refused in plain words.

The reference writer is openpyxl. All content is invented.
"""

from __future__ import annotations

import io
import resource
import struct
import time
import zipfile
from pathlib import Path

import pytest
from openpyxl import Workbook
from openpyxl.utils import get_column_letter

from models.actions import workbook
from models.actions.workbook import as_csv
from models.domain.errors import Invalid

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
SHEET, TEXTS = "xl/worksheets/sheet1.xml", "xl/sharedStrings.xml"
SECONDS = 5
"""Of CPU for a hostile workbook, with a generous margin: see `.bench/workbooks.py`."""


def book(rows: int = 2) -> bytes:
    """Return a workbook as another program writes it."""
    made, out = Workbook(), io.BytesIO()
    for number in range(rows):
        made.active.append(["invented", number])
    made.save(out)
    return out.getvalue()


def changed(part: str, data: str | bytes) -> bytes:
    """Return a workbook with a part put in the place of another, or added."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(book())) as old, zipfile.ZipFile(out, "w", 8) as new:
        for name in {*old.namelist(), part}:
            new.writestr(name, data if name == part else old.read(name))
    return out.getvalue()


def sheet(rows: str) -> bytes:
    head = f'<worksheet xmlns="{MAIN}"><sheetData>'
    return changed(SHEET, f"{head}{rows}</sheetData></worksheet>")


def bomb() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as parts:
        with parts.open("xl/workbook.xml", "w", force_zip64=True) as part:
            for _ in range(100):
                part.write(b" " * 10_000_000)
    return out.getvalue()


WIDE = "".join(
    f'<row r="{n}"><c r="A{n}"/><c r="{get_column_letter(16_384)}{n}"/></row>'
    for n in range(1, 30_000)
)
LAUGHS = '<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa">' + "".join(
    f'<!ENTITY {b} "{f"&{a};" * 10}">' for a, b in zip("abcdefgh", "bcdefghi", strict=True)
)

HOSTILE = {
    "a far row": sheet('<row r="999999999"><c r="A999999999"><v>1</v></c></row>'),
    "a far cell": sheet('<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>'),
    "a far column": sheet('<row r="199999"><c r="XFD199999"><v>1</v></c></row>'),
    "wide empty rows": sheet(WIDE),
    "a bomb": bomb(),
    "many texts": changed(TEXTS, f'<sst xmlns="{MAIN}">{"<si><t>x</t></si>" * 1_000_000}</sst>'),
    "laughs": changed(SHEET, f"{LAUGHS}]><worksheet>&i;</worksheet>"),
    "no archive": b"PK\x03\x04 no workbook",
    "cut off": book(500)[:3000],
    "junk as XLS": b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\x00\xff" * 2000,
    "endless XLS": b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + struct.pack("<I", 2**31) * 2000,
}


def said_of(folder: Path, content: bytes) -> str:
    """Return why a workbook is refused, or the CSV that it could have been."""
    path = folder / "book"
    path.write_bytes(content)
    try:
        with as_csv(path) as file:
            return file.read_text()
    except Invalid as refused:
        return str(refused)


@pytest.mark.parametrize("name", HOSTILE)
def test_what_asks_for_much_is_read_apart_and_costs_little(tmp_path: Path, name: str) -> None:
    here, there = time.process_time(), resource.getrusage(resource.RUSAGE_CHILDREN)
    said = said_of(tmp_path, HOSTILE[name])
    here = time.process_time() - here
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = after.ru_utime + after.ru_stime - there.ru_utime - there.ru_stime
    assert here < 0.3, "nothing of it in this process"
    assert spent < SECONDS
    assert said.count("\n") <= 30_000
    if name not in ("wide empty rows", "many texts", "laughs"):  # these have nothing to read
        assert "save it as CSV" in said or "rows" in said


def test_a_value_far_to_the_right_is_refused_before_rows_are_made_of_it(tmp_path: Path) -> None:
    there = resource.getrusage(resource.RUSAGE_CHILDREN)
    said = said_of(tmp_path, HOSTILE["a far column"])
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    assert "values in more than 100 columns: delete the columns beside" in said
    assert after.ru_utime - there.ru_utime < 1
    filled = said_of(tmp_path, sheet('<row><c r="CV1"><v>1</v></c></row>'))
    assert filled == 99 * "," + "1\n", "the hundredth column is read"


def test_what_takes_too_long_is_ended(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    slow = tmp_path / "slow.py"
    slow.write_text("import time\ntime.sleep(600)\n")
    monkeypatch.setattr(workbook, "READER", slow)
    monkeypatch.setattr(workbook, "SECONDS", 0.2)
    assert "more memory or time" in said_of(tmp_path, book())


def test_whoever_waits_may_stop_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    slow, path = tmp_path / "slow.py", tmp_path / "book"
    slow.write_text("import time\ntime.sleep(600)\n")
    path.write_bytes(book())
    monkeypatch.setattr(workbook, "READER", slow)

    def stop() -> None:
        raise InterruptedError

    began = time.monotonic()
    with pytest.raises(InterruptedError), as_csv(path, after_each=stop):
        pass
    assert time.monotonic() - began < 5


def test_a_sound_workbook_is_read_as_its_cells_are_numbered(tmp_path: Path) -> None:
    made, out = Workbook(), io.BytesIO()
    made.active["B3"], made.active["C4"], made.active["D4"] = "x", 30.0, True
    made.save(out)
    assert said_of(tmp_path, out.getvalue()) == "\n\n,x\n,,30,True\n"
    assert said_of(tmp_path, book(3_000)).splitlines()[-1] == "invented,2999"
    assert said_of(tmp_path, changed("xl/media/picture.png", b"\x89PNG")) != ""


def test_one_text_in_many_cells_is_not_written_out_for_whoever_asked(tmp_path: Path) -> None:
    cells = '<c t="s"><v>0</v></c>' * 4
    row = f"<row>{cells}</row>" * 1_990
    parts = {
        SHEET: f'<worksheet xmlns="{MAIN}"><sheetData>{row}</sheetData></worksheet>',
        TEXTS: f'<sst xmlns="{MAIN}"><si><t>{"x" * 100_000}</t></si></sst>',
    }
    path, out = tmp_path / "book", io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(book())) as old, zipfile.ZipFile(out, "w", 8) as new:
        for name in {*old.namelist(), *parts}:
            new.writestr(name, parts[name] if name in parts else old.read(name))
    path.write_bytes(out.getvalue())
    assert path.stat().st_size < 10_000
    with pytest.raises(Invalid, match="save it as CSV"), as_csv(path, 2_000):
        pass


def test_errors_and_unsaved_formulas_stand_where_they_are(tmp_path: Path) -> None:
    error, unsaved = '<c r="C2" t="e"><v>#N/A</v></c>', "<c><f>A1</f></c>"
    first = '<row r="1"><c r="B1"><v>1</v></c></row>'
    rows = f'{first}<row r="2">{error}{unsaved}</row><row/><row>{unsaved}</row>'
    said = "formula without a saved value"
    assert said_of(tmp_path, sheet(rows)) == f",1\n,,#N/A,{said}\n\n{said}\n"
