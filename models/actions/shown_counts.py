"""How many reports and people stand behind something, as it may be shown: in tens.

Exact counts say when somebody reported, and so between which two answers that somebody's score
lies. Rounded down to tens, they leave open who of ten it was.
"""

from __future__ import annotations

from models.actions.publishing import enough

_STEP = 10


def in_tens(reports: int | None, people: int | None) -> dict[str, int | None]:
    """Return counts rounded down to tens; None stands for fewer than ten people, not for nobody.

    Counts that were rounded before stay as they are.

    >>> in_tens(57, 23)
    {'reports': 50, 'reporters': 20}
    >>> in_tens(30, 9)
    {'reports': None, 'reporters': None}
    """
    if reports is None or people is None or not enough(people):
        return {"reports": None, "reporters": None}
    return {"reports": reports // _STEP * _STEP, "reporters": people // _STEP * _STEP}
