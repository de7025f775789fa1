"""Bodies and files that are made to hurt whoever reads them."""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Iterator, Mapping
from typing import Any

MANY = 200_000
LONG = 900_000
"""Just below what the service takes."""
LARGE = 19_900_000
"""Just below what it takes as a file."""

NUMBERS = (
    "NaN", "Infinity", "-Infinity", "1e400", "-1e400", "1e-400", "-0.0", "3.9", "1" + "0" * 30,
    "-1", "9223372036854775808", "1" * 5000, "0x10", "01", "1_000", "١٢", "true", "null",
)  # fmt: skip
TEXTS = (
    '""', '"\\u0000"', '"\\ud800"', '"\\udc00\\ud800"', '"=1+1"', '"\\u202e"', f'"{"x" * LONG}"',
    "[]", "{}", '["1"]', '{"$gt": 0}', "\"'; DROP TABLE reports; --\"", '"2026-02-30"',
)  # fmt: skip


def bodies(sample: Mapping[str, Any]) -> Iterator[bytes]:
    """Yield JSON, and what pretends to be, made from a body that would be taken."""
    for name in sample:
        for value in (*NUMBERS, *TEXTS):
            rest = json.dumps({key: one for key, one in sample.items() if key != name})[1:-1]
            members = ", ".join(part for part in (f'"{name}": {value}', rest) if part)
            yield f"{{{members}}}".encode()
    yield from (
        b"",
        b"{",
        b"null",
        b"[]",
        b'"x"',
        b"\xff\xfe{\x00}\x00",
        b"\xef\xbb\xbf{}",
        b"{}{}",
    )
    yield b'{"fit_score": "\xed\xa0\x80"}'
    yield b"[" * MANY
    yield b'{"a":' * (MANY // 2)
    yield b'{"foot":' * 100 + b"1" + b"}" * 100
    yield json.dumps({str(n): n for n in range(50_000)}).encode()
    yield json.dumps({"foot": {str(n): n for n in range(50_000)}}).encode()
    yield json.dumps([0] * MANY).encode()
    yield b'{"fit_score": 0, "fit_score": 1}'


def tables(sample: str) -> Iterator[bytes]:
    """Yield CSV made from a table of two lines that would be taken."""
    head, row = sample.splitlines()
    cells = row.split(",")
    for value in (*NUMBERS, "=1+1", '=cmd|"/c calc"!A1', "\0", "@SUM(1)", '"', "x" * LONG):
        for place in range(len(cells)):
            other = [*cells[:place], value, *cells[place + 1 :]]
            yield f"{head}\n{','.join(other)}\n".encode()
    yield f"{head}\n{row}\n".encode("utf-16")
    yield head.encode() + b"\n\xed\xa0\x80,1\n"
    yield b"\0" * LONG
    yield b'"' + b"x" * LONG
    yield b"," * LONG
    yield b"\n" * LONG
    yield head.encode() + b"\n" + b"1,\n" * (LONG // 3)
    yield (head + "\n" + (row + "\n") * (LONG // len(row) - 10)).encode()


def large_tables(sample: str) -> Iterator[bytes]:
    """Yield CSV as long as a file may be, made from a table of two lines that would be taken."""
    head, row = (line.encode() for line in sample.splitlines())
    wrong = b",".join([b"x"] * (head.count(b",") + 1))
    cells = row.split(b",")
    for line in (row, wrong):
        yield _filled(head, line)
    yield _filled(head, b",".join([*cells[:-1], b"x" * 100_000]))
    for text in (b"x", b"\n", b"e\xcc\x81"):
        quoted = b'"' + text * (LARGE // len(text)) + b"\xf0\x9f\xa7\xa6" + b'"'
        yield b"\n".join((head, b",".join([*cells[:-1], quoted])))
        yield b"\n".join((head, b",".join([*cells[:1], quoted, *cells[2:]])))
    yield b"\0" * LARGE
    yield b'"' + b"x" * LARGE
    yield b"," * LARGE
    yield head + b"\n" + b"," * LARGE


def _filled(head: bytes, line: bytes) -> bytes:
    return head + b"\n" + (line + b"\n") * (LARGE // (len(line) + 1))


SHEET = "xl/worksheets/sheet1.xml"
SPACE = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
STRINGS, STYLES, BOOK = "xl/sharedStrings.xml", "xl/styles.xml", "xl/workbook.xml"


def workbooks() -> Iterator[bytes]:
    """Yield workbooks: bombs, formulas, numbers that are none, parts that are missing."""
    good = workbook([["label", "=1+1"], ["S", "=HYPERLINK(1)"]])
    yield good
    yield good[: len(good) // 2]
    yield b"PK\x03\x04" + b"\0" * 1000
    yield _changed(good, SHEET, None)
    yield _changed(good, "[Content_Types].xml", None)
    yield _changed(good, SHEET, b"\0" * 100)
    yield _changed(good, SHEET, b"<worksheet>" * MANY)
    yield _changed(good, SHEET, b" " * 400_000_000)
    yield _changed(good, SHEET, _sheet('<c r="A1"><v>1e400</v></c><c r="B1"><v>NaN</v></c>'))
    yield _changed(good, SHEET, _sheet('<c r="XFD1048576"><v>1</v></c>'))
    yield _changed(good, SHEET, _sheet(f'<c r="A1"><v>1{"0" * 30}</v></c>'))
    yield _changed(good, SHEET, _laughs())
    yield _changed(good, "xl/sharedStrings.xml", _laughs())
    yield _changed(good, "xl/workbook.xml", _laughs())


def large_workbooks(sample: str) -> Iterator[bytes]:
    """Yield workbooks that unpack to much, or to little that takes much memory when parsed."""
    head, row = (line.split(",") for line in sample.splitlines())
    good = workbook([head, row])
    for part, opening, item, closing in (
        (SHEET, "<sheetData>", "<a/>", "</sheetData>"),
        (SHEET, "", "<a/>", ""),
        (SHEET, "<sheetData><row>", "<c/>", "</row></sheetData>"),
        (SHEET, "<sheetData>", "<row/>", "</sheetData>"),
        (SHEET, "<mergeCells>", '<mergeCell ref="A1"/>', "</mergeCells>"),
    ):
        yield _changed(good, part, _xml("worksheet", opening, item, closing))
    yield _changed(good, STRINGS, _xml("sst", "", "<si><t>x</t></si>", ""))
    yield _changed(good, STRINGS, _xml("sst", "", "<si/>", ""))
    yield _changed(good, STYLES, _xml("styleSheet", "<cellXfs>", "<xf/>", "</cellXfs>"))
    yield _changed(good, BOOK, _xml("workbook", "<sheets>", '<sheet name="a"/>', "</sheets>"))
    yield _changed(good, SHEET, _sheet(f'<c t="str"><v>{"x" * LARGE}</v></c>'))
    yield _many_parts()
    yield workbook([head, *[row] * 3_000])


def _xml(root: str, opening: str, item: str, closing: str) -> bytes:
    """Return XML of as many equal elements as a file has bytes, give or take."""
    many = item * (LARGE // len(item))
    return f'<{root} xmlns="{SPACE}">{opening}{many}{closing}</{root}>'.encode()


def _many_parts() -> bytes:
    """Return an archive of as many empty parts as the directory of one has room for."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as parts:
        for number in range(MANY):
            parts.writestr(str(number), b"")
    return out.getvalue()


def workbook(rows: list[list[Any]]) -> bytes:
    """Return a workbook of these rows."""
    from openpyxl import Workbook

    book, out = Workbook(), io.BytesIO()
    for row in rows:
        book.active.append(row)
    book.save(out)
    return out.getvalue()


def _changed(book: bytes, part: str, content: bytes | None) -> bytes:
    """Return a workbook with one part replaced, or left out."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(book)) as old, zipfile.ZipFile(out, "w", 8) as new:
        for name in {*old.namelist(), part}:
            if name != part:
                new.writestr(name, old.read(name))
            elif content is not None:
                new.writestr(name, content)
    return out.getvalue()


def _sheet(cells: str) -> bytes:
    rows = f'<row r="1">{cells}</row>'
    return f'<worksheet xmlns="{SPACE}"><sheetData>{rows}</sheetData></worksheet>'.encode()


def _laughs() -> bytes:
    """Return XML whose one entity unfolds to a thousand million others."""
    folded = "".join(
        f'<!ENTITY l{n} "{f"&l{n - 1};" * 10}">' if n else '<!ENTITY l0 "ha">' for n in range(10)
    )
    return f"<!DOCTYPE x [{folded}]><x>&l9;</x>".encode()
