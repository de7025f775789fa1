"""Lists: as many queries for a thousand rows as for ten, and none lost or twice while paging."""

from __future__ import annotations

from random import Random
from typing import Any
from uuid import uuid4

import pytest
from sqlalchemy import delete, event, insert, select

from models.tables.adopted import Adoption
from models.tables.base import Base, new_id
from models.tables.invitations import Invitation
from models.tables.jobs import Job
from models.tables.learned import Calibration, Suggestion
from models.tables.people import Member, Token
from models.tables.socks import Design, Foot, Report, Review, Size

PAGED: dict[str, type[Base]] = {
    "/invitations": Invitation,
    "/members": Member,
    "/feet": Foot,
    "/reports": Report,
    "/reviews": Report,
    "/reports/{report_id}/reviews": Review,
    "/calibrations": Calibration,
    "/suggestions": Suggestion,
    "/jobs": Job,
    "/designs": Design,
    "/designs/{design_id}/adoptions": Adoption,
}
"""Every list that comes in pages, with what it lists; a new one is asked for below."""

WHOLE: dict[str, type[Base]] = {"/designs/{design_id}/sizes": Size, "/v1/tokens": Token}
LISTS = PAGED | WHOLE

pytestmark = pytest.mark.only_on("sqlite")


class Listed:
    """A list of a world, whose rows are copies of one that was made as everybody makes it."""

    def __init__(self, world: Any, path: str) -> None:
        who = world.mine.steward
        ids = world.things(who)
        self.path, self.kind = path.format(**ids), LISTS[path]
        self.ask, self.database = who, world.database
        who.post(f"/reports/{ids['report_id']}/reviews", {"status": "held", "from": "counted"})
        [self.first, *_] = self.page()["items"]
        with self.database.read() as session:
            table = self.kind.__table__
            query = select(table).where(table.c.id == self.first["id"])
            self._row = dict(session.execute(query).mappings().one())

    def page(self, limit: int = 50, cursor: str | None = None) -> dict[str, Any]:
        """Return a page; a list that comes whole takes no limit."""
        asked = "" if self.kind in WHOLE.values() else f"?limit={limit}"
        found = self.ask.get(self.path + asked + (f"&cursor={cursor}" if cursor else ""))
        assert found.status_code == 200, found.text
        body: dict[str, Any] = found.json
        return body

    def grow(self, number: int) -> list[str]:
        """Add copies, whatever must differ being different, and return their ids."""
        rows = [self._row | {"id": new_id()} for _ in range(number)]
        for n, row in enumerate(rows):
            other = {"name": uuid4().hex, "label": uuid4().hex, "digest": uuid4().hex}
            other |= {"person_id": None} if self.kind is Member else {}
            other |= {"number": uuid4().int % 10**9 + n}
            row.update({name: value for name, value in other.items() if name in row})
        with self.database.write.begin() as session:
            session.connection().execute(insert(self.kind.__table__), rows)
        return [row["id"] for row in rows]

    def shrink(self, ids: list[str]) -> None:
        """Delete copies."""
        table = self.kind.__table__
        with self.database.write.begin() as session:
            session.execute(delete(table).where(table.c.id.in_(ids)))


@pytest.fixture
def listed(world: Any, path: str) -> Listed:
    return Listed(world, path)


def test_every_list_in_pages_is_looked_at_here(lasting: Any) -> None:
    found = {
        one.path.removeprefix("/v1/groups/{group_id}")
        for one in lasting.operations()
        if "cursor" in [parameter.get("name") for parameter in one.told.get("parameters", [])]
    }
    assert found == PAGED.keys()


@pytest.mark.parametrize("path", LISTS)
def test_a_list_takes_as_many_queries_however_long_it_is(listed: Listed) -> None:
    queries: list[str] = []
    for engine in listed.database.engines:
        event.listen(engine, "before_cursor_execute", lambda *given: queries.append(given[2]))
    counts, rows = [], 1
    for wanted in (10, 100, 1000):
        listed.grow(wanted - rows)
        rows = wanted
        queries.clear()
        assert len(listed.page()["items"]) >= min(wanted, 50)
        counts.append(len(queries))
    assert counts[0] > 1
    assert len(set(counts)) == 1, queries


@pytest.mark.parametrize("path", PAGED)
def test_rows_that_come_and_go_while_paging_neither_hide_nor_repeat_others(listed: Listed) -> None:
    draw = Random(listed.path[-8:])  # noqa: S311 -- nothing here is secret
    copies = listed.grow(40)
    lasting, gone = {listed.first["id"], *copies}, set()
    seen: list[str] = []
    page = listed.page(limit=7)
    seen += [one["id"] for one in page["items"]]
    while page["next"]:
        leaving = draw.sample(sorted(lasting & set(copies)), 3)
        listed.shrink(leaving)
        lasting -= {*leaving}
        gone |= {*leaving}
        listed.grow(2)
        page = listed.page(limit=7, cursor=page["next"])
        seen += [one["id"] for one in page["items"]]
    assert gone
    assert len(seen) == len(set(seen))
    assert lasting <= set(seen)
