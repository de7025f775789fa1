"""What would fill memory when a workbook is parsed is refused first. All content is invented.

The reference writer is openpyxl; how XML takes memory is CPython's `xml.etree`.
"""

from __future__ import annotations

import io
import tracemalloc
import zipfile
from pathlib import Path

import pytest
from openpyxl import Workbook

from models.actions.workbook import as_csv, takes_long
from models.actions.workbook_parts import (
    MOST_IN_A_TAG,
    MOST_IN_AN_ITEM,
    MOST_ITEMS,
    MOST_KEPT,
    MOST_PARTS,
    MOST_TEXT_IN_AN_ITEM,
    MOST_TEXT_KEPT,
    Bounds,
)
from models.domain.errors import Invalid

BOUNDS = Bounds(rows=MOST_ITEMS, unpacked_bytes=100_000_000)
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
SHEET, TEXTS = "xl/worksheets/sheet1.xml", "xl/sharedStrings.xml"
STYLES, RELATIONS = "xl/styles.xml", "xl/_rels/workbook.xml.rels"


def book(**rows: int) -> bytes:
    """Return a workbook as another program writes it."""
    made, out = Workbook(), io.BytesIO()
    for number in range(rows.get("rows", 2)):
        made.active.append(["invented", number])
    made.save(out)
    return out.getvalue()


def changed(content: bytes, part: str, data: str) -> bytes:
    """Return a workbook with a part put in the place of another, or added."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(out, "w", 8) as new:
        for name in {*old.namelist(), part}:
            new.writestr(name, data if name == part else old.read(name))
    return out.getvalue()


def xml(root: str, inside: str) -> str:
    return f'<{root} xmlns="{MAIN}">{inside}</{root}>'


def rows(inside: str) -> str:
    return xml("worksheet", f"<sheetData>{inside}</sheetData>")


def said_of(folder: Path, content: bytes) -> str:
    """Return why a workbook is refused, or the CSV that it could have been."""
    path = folder / "book"
    path.write_bytes(content)
    try:
        with as_csv(path, BOUNDS) as file:
            return file.read_text()
    except Invalid as refused:
        return str(refused)


FILLING = {
    "elements": (SHEET, rows("<a/>" * MOST_KEPT), "elements beside its rows"),
    "cells": (SHEET, rows(f"<row>{'<c/>' * (MOST_IN_AN_ITEM + 1)}</row>"), "cells in a row"),
    "rows": (SHEET, rows("<row/>" * (MOST_ITEMS + 1)), "rows or texts"),
    "texts": (TEXTS, xml("sst", "<si/>" * (MOST_ITEMS + 1)), "rows or texts"),
    "styles": (STYLES, xml("styleSheet", "<xf/>" * MOST_KEPT), "elements beside its rows"),
    "rows that are no sheet's": (STYLES, rows("<row/>" * MOST_KEPT), "elements beside its rows"),
    "a long cell": (
        SHEET,
        rows(f"<row><c><v>{'1' * (MOST_TEXT_IN_AN_ITEM + 1)}</v></c></row>"),
        "characters in a row",
    ),
    "a long name": (
        SHEET,
        rows(f'<row r="{"1" * (MOST_TEXT_IN_AN_ITEM - 9)}" s="0123456789"/>'),
        "characters in a row",
    ),
    "long texts": (
        TEXTS,
        xml("sst", f"<si><t>{'x' * 900_000}</t></si>" * (MOST_TEXT_KEPT // 900_000 + 1)),
        "characters of text",
    ),
    "a tag": (SHEET, rows(f"<!--{'x' * (MOST_IN_A_TAG + 100_000)}-->"), "bytes in a tag"),
}


@pytest.mark.parametrize(("part", "data", "what"), FILLING.values(), ids=FILLING)
def test_more_than_a_sound_workbook_has_is_refused_by_name(
    tmp_path, part: str, data: str, what: str
) -> None:
    said = said_of(tmp_path, changed(book(), part, data))
    assert said.endswith(f" {what}; save it as CSV")
    assert "it has more than " in said


def test_refusing_takes_little_memory(tmp_path) -> None:
    content = changed(book(), SHEET, rows("<a/>" * 2_000_000))
    tracemalloc.start()
    assert "elements" in said_of(tmp_path, content)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert most < 4_000_000  # the parsed elements would be some 200 MB


def test_more_parts_than_any_workbook_has_are_refused_by_their_directory(tmp_path) -> None:
    out = io.BytesIO(book())
    with zipfile.ZipFile(out, "a") as parts:
        for number in range(MOST_PARTS):
            parts.writestr(f"invented/{number}", b"")
    assert f"it has more than {MOST_PARTS:,} parts" in said_of(tmp_path, out.getvalue())


@pytest.mark.parametrize(
    ("part", "data"),
    [
        (RELATIONS, '<x><Relationship Target="worksheets/sheet1.xml" Type="x/chartsheet"/></x>'),
        ("[Content_Types].xml", f'<x><Override PartName="/{SHEET}" ContentType="x/styles"/></x>'),
        ("[Content_Types].xml", f'<x><Override PartName="/{TEXTS}" ContentType="x/sheet"/></x>'),
    ],
)
def test_a_large_part_is_not_read_as_what_it_is_not(tmp_path, part: str, data: str) -> None:
    said = said_of(tmp_path, changed(book(), part, data))
    assert "its parts are used as what they are not" in said


def test_entities_are_refused_where_they_are_declared(tmp_path) -> None:
    data = f'<!DOCTYPE x [<!ENTITY a "1">]>{rows("<row/>")}'
    assert "it declares entities" in said_of(tmp_path, changed(book(), SHEET, data))


def test_a_sound_workbook_with_pictures_and_shared_texts_is_read(tmp_path) -> None:
    content = changed(book(rows=3_000), "xl/media/picture.png", "\x89PNG not XML <at all>")
    assert said_of(tmp_path, content).splitlines()[-1] == "invented,2999"


def test_what_unpacks_to_more_than_is_read_while_somebody_waits_takes_long(tmp_path) -> None:
    path = tmp_path / "book"
    for size, expected in ((7_000_000, False), (9_000_000, True)):
        path.write_bytes(changed(book(), "xl/media/picture.png", "x" * size))
        assert takes_long(path, BOUNDS) is expected
    path.write_bytes(b"PK\x03\x04 no workbook")
    with pytest.raises(Invalid, match="no workbook that can be read"):
        takes_long(path, BOUNDS)
