"""Text that can be stored anywhere and shown: one rule for every way in."""

from __future__ import annotations

import unicodedata
from functools import lru_cache

from models.domain.errors import Fault, Invalid


def wanted_text(longest: int, *, lines: bool = False) -> str:
    """Return a phrase that says what text would be right."""
    return f"text of 1 to {longest} characters" + ("" if lines else " in one line")


def stored_text(text: str, longest: int, *, lines: bool = False) -> str | None:
    r"""Return text as it is stored, or None where it cannot be.

    Spaces around it are counted and go; line ends become "\n" and accents are composed; control
    characters, lone surrogates and, unless `lines`, line ends and characters that are not seen are
    refused. Of these a text of several lines may have all but those that turn its direction.

    >>> stored_text("  two\r\nlines ", 20, lines=True), stored_text("two\nlines", 20)
    ('two\nlines', None)
    """
    given = unicodedata.normalize("NFC", text).replace("\r\n", "\n")
    stored, allowed = given.strip(), "\n\t" if lines else ""
    odd = any(unicodedata.category(c) in _REFUSED and c not in allowed for c in stored)
    unseen = _turns(stored) if lines else _unseen(stored)
    return stored if stored and len(given) <= longest and not odd and not unseen else None


_REFUSED = ("Cc", "Cs")
_UNSEEN = ("Cf", "Zl", "Zp")
_TURNING = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""Characters that turn the direction of what follows (Unicode Standard Annex 9)."""

_VIRAMA = 9
"""The combining class of marks after which joiners are part of the spelling."""

_JOINERS = ("\u200c", "\u200d")


def _turns(text: str) -> bool:
    return not _TURNING.isdisjoint(text)


def _unseen(text: str) -> bool:
    """Return whether a text has characters that are not seen, and that no script needs there."""
    if text.isascii():
        return False
    return any(
        unicodedata.category(c) in _UNSEEN and not (c in _JOINERS and _joins(text, place))
        for place, c in enumerate(text)
    )


def _joins(text: str, place: int) -> bool:
    """Return whether a joiner is part of the spelling.

    After a virama, or, of those that keep apart, between letters of a script that joins them.

    References
    ----------
    RFC 5892, appendix A.1 and A.2; the joining types are taken from the script: Arabic and Syriac.

    """
    before, after = text[:place], text[place + 1 :]
    if before and unicodedata.combining(before[-1]) == _VIRAMA:
        return True
    return text[place] == "\u200c" and _is_joined(before[-1:]) and _is_joined(after[:1])


def _is_joined(letter: str) -> bool:
    return bool(letter) and unicodedata.name(letter, "").startswith(
        ("ARABIC LETTER", "SYRIAC LETTER")
    )


@lru_cache(maxsize=100_000)
def name_key(name: str) -> str:
    """Return what is the same for names that differ only in capitals, width and spaces.

    >>> name_key("  birch\u00a0Tree ") == name_key("Birch  tree")
    True
    """
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


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
