"""Text that can be stored anywhere and shown: one rule for every way in."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

from models.domain.errors import Fault, Invalid


def wanted_text(longest: int, *, lines: bool = False) -> str:
    """Return a phrase that says what text would be right."""
    return f"text of 1 to {longest} characters" + ("" if lines else " in one line")


def stored_text(text: str, longest: int, *, lines: bool = False) -> str | None:
    r"""Return text as it is stored, or None where it cannot be.

    Spaces around it are counted and go; line ends become "\n" and accents are composed; control
    characters, lone surrogates and, unless `lines`, line ends, characters that are not seen and
    those without a meaning of their own are refused. Of these a text of several lines may have all
    but those that turn its direction.

    >>> stored_text("  two\r\nlines ", 20, lines=True), stored_text("two\nlines", 20)
    ('two\nlines', None)
    """
    given = unicodedata.normalize("NFC", text).replace("\r\n", "\n")
    stored, allowed = given.strip(), "\n\t" if lines else ""
    odd = any(unicodedata.category(c) in _REFUSED and c not in allowed for c in stored)
    unseen = _turns(stored) if lines else _unseen(stored)
    return stored if stored and len(given) <= longest and not odd and not unseen else None


_REFUSED = ("Cc", "Cs")
_UNCLEAR = ("Cf", "Zl", "Zp", "Co", "Cn")
_TURNING = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""Characters that turn the direction of what follows (Unicode Standard Annex 9)."""

_VIRAMA = 9
"""The combining class of marks after which joiners are part of the spelling."""

_JOINERS = ("\u200c", "\u200d")

_IGNORABLE = re.compile(
    "[\u00ad\u034f\u061c\u115f\u1160\u17b4\u17b5\u180b-\u180f\u200b-\u200f\u202a-\u202e"
    "\u2060-\u206f\u3164\ufe00-\ufe0f\ufeff\uffa0\ufff0-\ufff8\U0001bca0-\U0001bca3"
    "\U0001d173-\U0001d17a\U000e0000-\U000e0fff]"
)
"""Characters that are not shown: Default_Ignorable_Code_Point of Unicode 14, as in Perl 5.36."""

_SELECTORS = re.compile("[\u180b-\u180d\u180f\ufe00-\ufe0f\U000e0100-\U000e01ef]")
"""Those of them that choose between forms of the character before, as of Han and of emoji."""

_BLANK = "\u2800"
"""The pattern of Braille without a dot: a symbol to Unicode, a space to who reads it."""


def _turns(text: str) -> bool:
    return not _TURNING.isdisjoint(text)


def _unseen(text: str) -> bool:
    """Return whether a text has characters that are not seen, and that no script needs there."""
    if text.isascii():
        return False
    return any(
        (_IGNORABLE.match(c) or c == _BLANK or unicodedata.category(c) in _UNCLEAR)
        and not (c in _JOINERS and _joins(text, place))
        and not (_SELECTORS.match(c) and _is_seen(text[:place][-1:]))
        for place, c in enumerate(text)
    )


def _is_seen(before: str) -> bool:
    """Return whether a character is one of which a form can be chosen."""
    return unicodedata.category(before or " ")[0] in "LNPS" and not _IGNORABLE.match(before)


def _joins(text: str, place: int) -> bool:
    """Return whether a joiner is part of the spelling.

    After a virama, or, of those that keep apart, between letters of a script that joins them; marks
    on these do not matter.

    References
    ----------
    RFC 5892, appendix A.1 and A.2; the joining types are taken from the script: Arabic and Syriac.

    """
    before, after = text[:place], text[place + 1 :]
    if before and unicodedata.combining(before[-1]) == _VIRAMA:
        return True
    return text[place] == "\u200c" and _is_joined(before[::-1]) and _is_joined(after)


def _is_joined(letters: str) -> bool:
    """Return whether the first of some characters that is no mark is a letter that is joined."""
    first = next((c for c in letters if unicodedata.category(c) != "Mn"), "")
    return bool(first) and unicodedata.name(first, "").startswith(
        ("ARABIC LETTER", "SYRIAC LETTER")
    )


@lru_cache(maxsize=100_000)
def name_key(name: str) -> str:
    """Return what is the same for names that differ only in capitals, width, spaces and joiners.

    >>> name_key("  birch\u00a0Tree ") == name_key("Birch  tree")
    True

    References
    ----------
    The Unicode Standard, section 3.13: toNFKC_Casefold, which leaves out what is not shown.

    """
    if name.isascii():
        return " ".join(name.casefold().split())
    folded = unicodedata.normalize("NFKC", unicodedata.normalize("NFD", shown(name)).casefold())
    again = unicodedata.normalize("NFKC", shown(folded).casefold())
    return " ".join(again.split())


def shown(text: str) -> str:
    """Return a text without the characters that are not shown."""
    return _IGNORABLE.sub("", text)


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
