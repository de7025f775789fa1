"""Lists of the API as pages show them: all of a short one, or a long one page by page."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from models.actions.paging import Page

AT_ONCE = 200


def newest_first(listed: Callable[[str | None, int], Page]) -> list[Any]:
    """Return all rows of a list that is told oldest first; `listed` takes after and limit."""
    return [*_all(listed)][::-1]


def _all(listed: Callable[[str | None, int], Page]) -> Iterator[Any]:
    found = listed(None, AT_ONCE)
    yield from found.rows
    while found.next_after is not None:
        found = listed(found.next_after, AT_ONCE)
        yield from found.rows
