"""Small pieces of English that the written instructions share."""

from __future__ import annotations

from collections.abc import Sequence

_PLURALS = {"stitch": "stitches"}


def counted(number: int, noun: str) -> str:
    """Return a number with its noun.

    >>> counted(1, "stitch"), counted(3, "round")
    ('1 stitch', '3 rounds')
    """
    return f"{number} {noun if number == 1 else _PLURALS.get(noun, noun + 's')}"


def at_least(number: int | None, noun: str) -> str:
    """Return a count that may have been rounded down to tens, or withheld, with its noun.

    >>> at_least(None, "report"), at_least(50, "report"), at_least(57, "report")
    ('fewer than 10 reports', '50 or more reports', '57 reports')
    """
    if number is None:
        return f"fewer than {counted(10, noun)}"
    if number and number % 10 == 0:
        return counted(number, noun).replace(" ", " or more ", 1)
    return counted(number, noun)


def listed(numbers: Sequence[int]) -> str:
    """Return numbers as a sentence lists them.

    >>> listed([60]), listed([60, 56, 52])
    ('60', '60, 56 and 52')
    """
    words = [str(number) for number in numbers]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def span(first: int, last: int) -> str:
    """Return which rounds a step covers.

    >>> span(4, 11), span(4, 4)
    ('Rounds 4 to 11', 'Round 4')
    """
    return f"Round {first}" if first == last else f"Rounds {first} to {last}"


def in_ten(share: float) -> str:
    """Return a share of people as one says it.

    >>> in_ten(0.78), in_ten(0.97), in_ten(0.02)
    ('about 8 in 10', 'more than 9 in 10', 'fewer than 1 in 10')
    """
    tenths = round(10 * share)
    if tenths == 0:
        return "fewer than 1 in 10"
    return "more than 9 in 10" if tenths == 10 else f"about {tenths} in 10"
