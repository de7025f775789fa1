"""Names that look alike although they are spelt with other characters.

References
----------
Unicode Technical Standard 39, section 4: two strings are confusable if their skeletons are equal.
The table of what looks alike is that of the library confusable-homoglyphs.

"""

from __future__ import annotations

from functools import cache, lru_cache
from unicodedata import normalize

from models.domain.texts import shown


@lru_cache(maxsize=100_000)
def skeleton(name: str) -> str:
    r"""Return what all names have in common that look like this one; it is not to be shown.

    >>> skeleton("Birch") == skeleton("Bir\u0441h"), skeleton("Birch") == skeleton("Beech")
    (True, False)
    """
    alike, seen = _prototypes(), normalize("NFD", " ".join(shown(name).split()))
    found = seen.translate(alike)
    if not found.isascii():
        # Again, for an old form may look like another letter than the one it stands for.
        found = normalize("NFD", normalize("NFKD", found).translate(alike))
    return found.casefold()


@cache
def _prototypes() -> dict[int, str]:
    """Return by character the one, or the few, that stand for all that look like it.

    The table lists every pair both ways, so what hangs together is one class, and its lowest
    character stands for it; a character that looks like several is those.
    """
    # Here, for it loads its table, which a server needs with the first new name.
    from confusable_homoglyphs.confusables import confusables_data  # noqa: PLC0415

    alike = {
        _plain(one): [_plain(other["c"]) for other in others]
        for one, others in confusables_data.items()
        if len(_plain(one)) == 1
    }
    first: dict[str, str] = {}
    for one in sorted(alike):
        _mark(one, alike, first)
    several = {
        one: min((other for other in others if len(other) > 1), default=None)
        for one, others in alike.items()
    }
    return {
        ord(one): "".join(first.get(part, part) for part in several[one] or one) for one in alike
    }


def _plain(text: str) -> str:
    """Return a text of the table without the marks of direction that it puts around some."""
    return text.strip("\u200e\u200f")


def _mark(one: str, alike: dict[str, list[str]], first: dict[str, str]) -> None:
    """Note a character as the first of all that hang together with it and have none yet."""
    to_do = [one]
    while to_do:
        found = to_do.pop()
        if found not in first:
            first[found] = one
            to_do += [other for other in alike.get(found, ()) if len(other) == 1]
