"""Whether a workbook can be parsed without filling memory, found out piece by piece.

Whoever parses XML keeps what it has met, some hundred bytes for `<a/>`. Openpyxl lets go of rows
and shared texts only, each when it ends, and keeps all else as objects. So what would be kept is
counted first, by a parser that keeps nothing.
"""

from __future__ import annotations

import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import IO
from xml.parsers.expat import ExpatError, ParserCreate

from models.domain.errors import Fault, Invalid

MOST_PARTS = 1_000
MOST_ITEMS = 200_000
"""Rows of a sheet, or texts of the table that sheets share."""
MOST_IN_AN_ITEM = 20_000
"""Elements of a row: more than a sheet has columns, 16,384."""
MOST_TEXT_IN_AN_ITEM = 1_000_000
MOST_KEPT = 20_000
"""Elements of all else, such as styles, of which a large sheet has some hundreds."""
MOST_TEXT_KEPT = 10_000_000
MOST_IN_A_TAG = 1_000_000
_PIECE = 1 << 16

_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_SHEET, _TEXTS, _ROW, _TEXT = (f"{_MAIN}}}{name}" for name in ("worksheet", "sst", "row", "si"))
_ITEMS = {_SHEET: _ROW, _TEXTS: _TEXT}
"""What is let go of when it ends, by the root of a part."""
_PLACES = {_SHEET: "worksheets/", _TEXTS: "sharedstrings.xml"}
_KINDS = {"worksheets/": "worksheet", "sharedstrings.xml": "sharedstrings"}
"""What a part must be used as, by what is in its name: read as another kind it would be kept."""


@dataclass(frozen=True)
class Bounds:
    """How large a workbook may be: rows of its first sheet, and bytes of all it unpacks to."""

    rows: int
    unpacked_bytes: int


def unpacked_bytes(path: Path, bounds: Bounds) -> int:
    """Return how many bytes a workbook says it unpacks to, which is the most that it can.

    Raises
    ------
    Invalid
        Where it is larger than may be, or has more parts than any has: their directory alone
        would fill memory.
    zipfile.BadZipFile
        Where it is no archive.

    """
    with path.open("rb") as file:
        if _parts_said(file) > MOST_PARTS:
            raise refused(path, f"it has more than {MOST_PARTS:,} parts; save it as CSV")
    with zipfile.ZipFile(path) as parts:
        size = sum(part.file_size for part in parts.infolist())
    if size > bounds.unpacked_bytes:
        wanted = f"unpacked it has {size:,} bytes, more than {bounds.unpacked_bytes:,}"
        raise refused(path, f"{wanted}; save it as CSV")
    return size


def require_readable(path: Path, bounds: Bounds) -> None:
    """Raise `Invalid` where parsing a workbook could take more memory than a sound one takes."""
    unpacked_bytes(path, bounds)
    watch = _Watch(path)
    with zipfile.ZipFile(path) as parts:
        for part in parts.infolist():
            with parts.open(part) as file:
                watch.over(part.filename, file)


def refused(path: Path, wanted: str) -> Invalid:
    """Return what to raise for a file that is not taken as a whole."""
    return Invalid([Fault("file", path.name, wanted)])


def _parts_said(file: IO[bytes]) -> int:
    """Count the entries of an archive's directory without reading it as one."""
    mark, found, end = b"PK\x01\x02", 0, b""
    while piece := file.read(_PIECE):
        found += (end + piece).count(mark)
        end = piece[-len(mark) + 1 :]
    return found


class _Watch:
    """Counts what of a workbook's parts would be kept, and refuses too much of it."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._kept = self._text_kept = 0

    def over(self, name: str, file: IO[bytes]) -> None:
        """Look at one part; what is no XML ends where its parser would end as well."""
        self._depth = self._items = self._in_item = self._text_in_item = 0
        self._name, self._item, self._item_depth = name.lower(), "", 0
        parser = ParserCreate(namespace_separator="}")
        parser.StartElementHandler = self._started
        parser.EndElementHandler = self._ended
        parser.CharacterDataHandler = self._count
        parser.StartDoctypeDeclHandler = self._doctype
        fed = 0
        try:
            for piece in _pieces(file):
                parser.Parse(piece)
                fed += len(piece)
                if fed - parser.CurrentByteIndex > MOST_IN_A_TAG:
                    self._refuse(MOST_IN_A_TAG, "bytes in a tag")
        except ExpatError:
            return

    def _started(self, name: str, attributes: Mapping[str, str]) -> None:
        self._depth += 1
        if self._depth == 1 and _PLACES.get(name, "?") in self._name:
            self._item = _ITEMS[name]
        if self._item_depth:
            self._in_item += 1
            if self._in_item > MOST_IN_AN_ITEM:
                self._refuse(MOST_IN_AN_ITEM, "cells in a row")
        else:
            self._started_outside(name, attributes)
        self._count("".join(attributes.values()))

    def _started_outside(self, name: str, attributes: Mapping[str, str]) -> None:
        if name != self._item:
            self._kept += 1
            if self._kept > MOST_KEPT:
                self._refuse(MOST_KEPT, "elements beside its rows")
            self._require_right_use(attributes)
            return
        self._item_depth, self._in_item, self._text_in_item = self._depth, 0, 0
        self._items += 1
        if self._items > MOST_ITEMS:
            self._refuse(MOST_ITEMS, "rows or texts")

    def _ended(self, _name: str) -> None:
        if self._depth == self._item_depth:
            self._item_depth = 0
        self._depth -= 1

    def _count(self, text: str) -> None:
        if self._item_depth:
            self._text_in_item += len(text)
            if self._text_in_item > MOST_TEXT_IN_AN_ITEM:
                self._refuse(MOST_TEXT_IN_AN_ITEM, "characters in a row")
        if not self._item_depth or self._item == _TEXT:
            self._text_kept += len(text)
            if self._text_kept > MOST_TEXT_KEPT:
                self._refuse(MOST_TEXT_KEPT, "characters of text")

    def _require_right_use(self, attributes: Mapping[str, str]) -> None:
        used = attributes.get("PartName") or attributes.get("Target") or ""
        kind = attributes.get("ContentType") or attributes.get("Type") or ""
        for place, wanted in _KINDS.items():
            if place in used.lower() and wanted not in kind.lower():
                raise refused(self._path, "its parts are used as what they are not")

    def _doctype(self, *_declared: object) -> None:
        raise refused(self._path, "it declares entities, which workbooks have none of")

    def _refuse(self, most: int, what: str) -> None:
        raise refused(self._path, f"it has more than {most:,} {what}; save it as CSV")


def _pieces(file: IO[bytes]) -> Iterator[bytes]:
    while piece := file.read(_PIECE):
        yield piece
