"""Text cells that no spreadsheet runs as a formula."""

from __future__ import annotations

from typing import Any

_STARTS_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def safe_cell(value: Any) -> Any:
    """Return a cell as it may be written: text that looks like a formula gets an apostrophe.

    Text that already begins with an apostrophe gets one more, so that reading takes exactly one
    away.

    >>> safe_cell("=1+1"), safe_cell("'tis"), safe_cell(-3), safe_cell("fits")
    ("'=1+1", "''tis", -3, 'fits')
    """
    if isinstance(value, str) and value.startswith((*_STARTS_FORMULA, "'")):
        return f"'{value}"
    return value


def read_cell(text: str) -> str:
    """Return what a text cell said before it was made safe.

    >>> read_cell("'=1+1"), read_cell("''tis"), read_cell("fits")
    ('=1+1', "'tis", 'fits')
    """
    return text[1:] if text.startswith(tuple(f"'{c}" for c in (*_STARTS_FORMULA, "'"))) else text
