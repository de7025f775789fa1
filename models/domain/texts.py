"""Text that can be stored anywhere and shown: one rule for every way in."""

from __future__ import annotations

import unicodedata

from models.domain.errors import Fault, Invalid


def wanted_text(longest: int, *, lines: bool = False) -> str:
    """Return a phrase that says what text would be right."""
    return f"text of 1 to {longest} characters" + ("" if lines else " in one line")


def stored_text(text: str, longest: int, *, lines: bool = False) -> str | None:
    r"""Return text as it is stored, or None where it cannot be.

    Spaces around it are counted and go; line ends become "\n" and accents are composed; control
    characters, lone surrogates and, unless `lines`, line ends are refused.

    >>> stored_text("  two\r\nlines ", 20, lines=True), stored_text("two\nlines", 20)
    ('two\nlines', None)
    """
    given = unicodedata.normalize("NFC", text).replace("\r\n", "\n")
    stored, allowed = given.strip(), "\n\t" if lines else ""
    odd = any(unicodedata.category(c) in ("Cc", "Cs") and c not in allowed for c in stored)
    return stored if stored and len(given) <= longest and not odd else None


def required_name(field: str, text: str, longest: int = 80) -> str:
    """Return a name as it is stored.

    Raises
    ------
    Invalid
        Where it cannot be.

    """
    stored = stored_text(text, longest)
    if stored is None:
        raise Invalid([Fault(field, text, wanted_text(longest))])
    return stored
