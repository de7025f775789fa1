"""What hostile and honest workbooks cost: CPU of the process that asks, and of the one that reads.

python .bench/workbooks.py
"""

from __future__ import annotations

import io
import resource
import tempfile
import time
import zipfile
from collections.abc import Iterator
from pathlib import Path

from openpyxl import Workbook
from openpyxl.utils import get_column_letter

from models.actions.workbook import as_csv
from models.domain.errors import Invalid

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
SHEET = "xl/worksheets/sheet1.xml"
ROWS, COLUMNS = 20_000, 15


def honest(rows: int = ROWS) -> bytes:
    """Return a workbook of rows of numbers, as another program writes it."""
    book, out = Workbook(write_only=True), io.BytesIO()
    sheet = book.create_sheet()
    for number in range(rows):
        sheet.append([f"invented {number}", *range(COLUMNS - 1)])
    book.save(out)
    return out.getvalue()


def with_rows(rows: str) -> bytes:
    """Return a workbook whose sheet has other rows."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(honest(1))) as old, zipfile.ZipFile(out, "w", 8) as new:
        for name in old.namelist():
            text = f'<worksheet xmlns="{MAIN}"><sheetData>{rows}</sheetData></worksheet>'
            new.writestr(name, text if name == SHEET else old.read(name))
    return out.getvalue()


def workbooks() -> Iterator[tuple[str, bytes]]:
    """Yield workbooks by what they are."""
    wide = get_column_letter(16_384)
    cells = "".join(f'<c r="{get_column_letter(n)}1"/>' for n in range(1, 16_385))
    yield "row 999,999,999", with_rows('<row r="999999999"/>')
    yield "a cell there", with_rows('<row r="999999999"><c r="A999999999"><v>1</v></c></row>')
    yield f"{wide}1048576", with_rows(f'<row r="1"><c r="{wide}1048576"><v>1</v></c></row>')
    yield "wide empty rows", with_rows(f"<row>{cells}</row>" * 100)
    yield "one small row", honest(1)
    yield f"{ROWS:,} rows of {COLUMNS}", honest()


def main() -> None:
    """Print a line for each."""
    for name, content in workbooks():
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "book"
            path.write_bytes(content)
            before, here = resource.getrusage(resource.RUSAGE_CHILDREN), time.process_time()
            try:
                with as_csv(path) as file:
                    said = f"{file.stat().st_size:,} bytes of CSV"
            except Invalid as refused:
                said = str(refused)
            here = time.process_time() - here
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
        there = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
        print(f"{name:24} {len(content):9,} bytes  {here:5.2f} s here {there:5.2f} s apart  {said}")


if __name__ == "__main__":
    main()
