"""Lists are found by indexes: what a page costs does not grow with the group.

Each list is asked for in a group of many rows, and the database says how it would find them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from sqlalchemy import event, insert, text
from sqlalchemy.orm import Session

from models.actions import (
    feet,
    groups,
    invitations,
    jobs,
    members,
    reports,
    reviews,
    suggestions,
    tokens,
)
from models.actions.actor import Actor, Asker
from models.domain.roles import Role
from models.tables.engine import Database
from models.tables.people import Token
from models.tables.socks import Review
from tests.large_group import GROUP, MEMBER, PERSON, REPORT, named, rows

PEOPLE, EACH = 400, 25
TOKEN, REVIEW = 6, 7


@pytest.fixture
def large(database: Database) -> Database:
    """Return a database with a group of many people, socks, suggestions, tokens and reviews."""
    shown = [
        {"id": named(TOKEN, n), "person_id": named(PERSON, n), "digest": f"{n:064x}",
         "label": "one"}
        for n in range(PEOPLE)
    ]  # fmt: skip
    steps = [
        {"id": named(REVIEW, n), "group_id": GROUP, "report_id": named(REPORT, n),
         "member_id": named(MEMBER, n % PEOPLE), "status": "held"}
        for n in range(0, PEOPLE * EACH, 5)
    ]  # fmt: skip
    with database.write.begin() as session:
        for table, made in rows(PEOPLE, PEOPLE * EACH, held_each=100):
            session.execute(insert(table), made)
        session.execute(insert(Token), shown)
        session.execute(insert(Review), steps)
    with database.engine.connect() as connection:
        connection.execute(text("ANALYZE"))
        connection.commit()
    return database


ASKS = named(PERSON, 7)
KNITTER = Actor(GROUP, Role.KNITTER, named(MEMBER, 7), "Invented 7")
STEWARD = Actor(GROUP, Role.STEWARD, named(MEMBER, 0), "Invented 0")
PAGE: dict[str, Any] = {"after": None, "limit": 50}

LISTS: dict[str, tuple[Callable[[Session], Any], dict[str, str]]] = {
    "own reports": (lambda s: reports.list_reports(s, KNITTER, **PAGE), {"reports": "member_id"}),
    "own feet": (lambda s: feet.list_feet(s, KNITTER, **PAGE), {"feet": "member_id"}),
    "own suggestions": (
        lambda s: suggestions.list_suggestions(s, KNITTER, **PAGE),
        {"suggestions": "member_id", "reports": "suggestion_id"},
    ),
    "own suggestions, newest first": (
        lambda s: suggestions.list_suggestions(s, KNITTER, **PAGE, newest_first=True),
        {"suggestions": "member_id", "reports": "suggestion_id"},
    ),
    "held reports": (lambda s: reviews.list_held(s, STEWARD, **PAGE), {"reports": "status"}),
    "reviews of a report": (
        lambda s: reviews.list_reviews(s, KNITTER, named(REPORT, 7), **PAGE),
        {"reviews": "report_id"},
    ),
    "members": (lambda s: members.list_members(s, STEWARD, **PAGE), {}),
    "invitations": (lambda s: invitations.list_invitations(s, STEWARD, **PAGE), {}),
    "jobs": (lambda s: jobs.list_jobs(s, STEWARD, {"export"}, **PAGE), {}),
    "groups of a person": (lambda s: groups.groups_of(s, ASKS), {"members": "person_id"}),
    "tokens": (lambda s: tokens.list_tokens(s, Asker(ASKS)), {"tokens": "person_id"}),
}


class Plans:
    """Collects how the database would find what statements ask for."""

    def __init__(self, database: Database) -> None:
        self.found: list[str] = []
        self._sqlite = database.engine.dialect.name == "sqlite"

    def explain(self, _conn: Any, cursor: Any, statement: str, parameters: Any, *_: Any) -> None:
        if statement.startswith("SELECT"):
            how = "EXPLAIN QUERY PLAN" if self._sqlite else "EXPLAIN"
            rows = cursor.connection.cursor().execute(f"{how} {statement}", parameters)
            self.found += [str(row[-1]) for row in rows]


@pytest.fixture
def plans(large: Database) -> Iterator[Plans]:
    """Yield what collects the plans of all that is read."""
    reader = large.engines[1]
    plans = Plans(large)
    event.listen(reader, "before_cursor_execute", plans.explain)
    yield plans
    event.remove(reader, "before_cursor_execute", plans.explain)


def doubts(sqlite: bool, name: str, told: list[str]) -> list[str]:  # noqa: FBT001
    """Return what is wrong with the plan of a list."""
    walks = "SCAN " if sqlite else "Seq Scan on "
    wrong = [line for line in told for table in LISTS[name][1] if f"{walks}{table}" in line]
    for table, column in LISTS[name][1].items():
        by = [line for line in told if column in line and ("=?" in line or "Cond:" in line)]
        if not any(table in line or not sqlite for line in by):
            wrong.append(f"{table} not by {column}")
    return wrong and [*wrong, *told]


def test_every_list_is_found_by_an_index(large: Database, plans: Plans) -> None:
    sqlite = large.engine.dialect.name == "sqlite"
    wrong = {}
    for name, (ask, _) in LISTS.items():
        plans.found = []
        with large.read() as session:
            assert ask(session) is not None
        assert plans.found, name
        wrong[name] = doubts(sqlite, name, plans.found)
    assert not any(wrong.values()), wrong
