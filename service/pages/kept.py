"""What somebody has typed so far: kept in a cookie of their own browser, nowhere else."""

from __future__ import annotations

import base64
import binascii
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, TypeGuard

from service.pages.typed import LONGEST, typed

COOKIE = "heeldepth_ask"
KEPT_SECONDS = 30 * 24 * 60 * 60
"""Long enough to knit the pair; a page that a phone has dropped can then be opened again."""

UNIT_COOKIE = "heeldepth_unit"
"""The unit that somebody measures in, for all pages; it says nothing of any foot."""

LENGTH_UNITS = ("cm", "in")
WIDTHS = {"10cm": (10.0, "cm"), "4in": (4.0, "in")}
"""Over how much fabric a gauge may have been counted."""

USUAL_WIDTHS = {"cm": "10cm", "in": "4in"}
"""Over which width those who measure in a unit count."""

_MOST_ENTRIES = 32


@dataclass(frozen=True)
class Typing:
    """One entry as typed, with the unit of a number that names none; counts have no unit."""

    text: str
    unit: str = ""

    def shown_in(self, unit: str) -> str:
        """Return the entry for a form whose lengths are in `unit`.

        >>> Typing("24,5", "cm").shown_in("cm"), Typing("24,5", "cm").shown_in("in")
        ('24,5', '24,5 cm')
        """
        return self.text if self.unit == unit else self.whole

    @property
    def whole(self) -> str:
        """The entry with its unit, where it has one and does not name it itself."""
        said = typed(self.text)
        bare = said is not None and said.unit is None
        return f"{self.text.strip()} {self.unit}" if bare and self.unit else self.text


@dataclass(frozen=True)
class Kept:
    """Entries by the name of their field, and the units that somebody works in.

    `group` is the id of the group that is to answer; geometry answers where there is none.
    """

    entries: Mapping[str, Typing] = field(default_factory=dict)
    unit: str = "cm"
    width: str = "10cm"
    group: str = ""

    def text(self, name: str) -> str:
        """Return an entry as its form should show it."""
        return self.entries[name].shown_in(self.unit) if name in self.entries else ""

    def having(self, name: str, text: str, unit: str = "") -> Kept:
        """Return this with an entry; one that still says what was shown keeps its own unit."""
        if name in self.entries and text == self.text(name):
            return self
        entry = Typing(text[: LONGEST + 1], unit)
        return replace(self, entries={**self.entries, name: entry})

    def without(self, name: str) -> Kept:
        """Return this without an entry."""
        return replace(self, entries={n: e for n, e in self.entries.items() if n != name})

    def dump(self) -> str:
        """Return this as the value of a cookie."""
        body = {
            "unit": self.unit,
            "width": self.width,
            "group": self.group,
            "entries": {name: [entry.text, entry.unit] for name, entry in self.entries.items()},
        }
        text = json.dumps(body, separators=(",", ":"), ensure_ascii=False)
        return base64.urlsafe_b64encode(text.encode()).decode()


def unit_of(cookies: Mapping[str, str]) -> str:
    """Return the unit that the reader of a page measures in."""
    said = cookies.get(UNIT_COOKIE)
    return said if said in LENGTH_UNITS else LENGTH_UNITS[0]


def load(cookie: str) -> Kept:
    """Return what a cookie holds; one that this project did not write counts as none.

    >>> load(Kept().having("foot_length_mm", "9½", "in").dump()).text("foot_length_mm")
    '9½ in'
    >>> load("anything else") == Kept()
    True
    """
    try:
        body = json.loads(base64.urlsafe_b64decode(cookie))
    except (binascii.Error, ValueError, RecursionError):
        return Kept()
    return _kept(body) if isinstance(body, dict) else Kept()


def _kept(body: dict[str, Any]) -> Kept:
    unit, width, entries = (body.get(name) for name in ("unit", "width", "entries"))
    if unit not in LENGTH_UNITS or width not in tuple(WIDTHS) or not isinstance(entries, dict):
        return Kept()
    if len(entries) > _MOST_ENTRIES:
        return Kept()
    good = {name: Typing(*pair) for name, pair in entries.items() if _is_typing(pair)}
    group = body.get("group")
    return Kept(good, unit, width, group if is_id(group) else "")


def is_id(text: object) -> TypeGuard[str]:
    """Return whether something can be the id of a group."""
    return isinstance(text, str) and re.fullmatch("[0-9a-f]{32}", text) is not None


def _is_typing(pair: object) -> bool:
    if not isinstance(pair, list) or len(pair) != 2 or not isinstance(pair[0], str):
        return False
    text, unit = pair
    half = any("\ud800" <= char <= "\udfff" for char in text)  # a lone surrogate cannot be sent
    return len(text) <= LONGEST + 1 and not half and unit in ("", *LENGTH_UNITS)
