"""Pages by keyset: rows that come or go meanwhile neither repeat nor hide others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Row
from sqlalchemy.orm import InstrumentedAttribute, Session


@dataclass(frozen=True)
class Page:
    """Some rows, and the id after which the next ones come (None on the last page)."""

    rows: Sequence[Row[Any]]
    next_after: str | None


def page(
    session: Session,
    query: Any,
    key: InstrumentedAttribute[str],
    *,
    after: str | None,
    limit: int,
    newest_first: bool = False,
) -> Page:
    """Return `limit` rows of a query in the order of `key`, which must be its first column."""
    found = one_page(query, key, after=after, limit=limit, newest_first=newest_first)
    return cut(session.execute(found).all(), limit)


def one_page(
    query: Any,
    key: InstrumentedAttribute[str],
    *,
    after: str | None,
    limit: int,
    newest_first: bool = False,
) -> Any:
    """Return the query of a page and of one row more, which says whether others follow."""
    if after is not None:
        query = query.where(key < after if newest_first else key > after)
    order = key.desc() if newest_first else key
    return query.order_by(order).limit(limit + 1)


def cut(rows: Sequence[Row[Any]], limit: int) -> Page:
    """Return the page that the rows of `one_page` are."""
    more = len(rows) > limit
    rows = rows[:limit]
    return Page(rows, rows[-1][0] if more else None)
