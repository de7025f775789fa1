from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import pytest
from sqlalchemy import select
from sqlalchemy.exc import StatementError
from sqlalchemy.orm.exc import StaleDataError

from models.tables.base import Base, new_id, now
from models.tables.people import Group, Person, Token
from models.tables.socks import Design, Report

BANGALORE = timezone(timedelta(hours=5, minutes=30))


def test_a_moment_comes_back_in_utc_whatever_zone_it_was_given_in(database) -> None:
    given = datetime(2024, 3, 1, 2, 30, 15, 123456, tzinfo=BANGALORE)
    with database.write.begin() as session:
        session.add(Person(id="p", created_at=given))
    with database.read() as session:
        back = session.get_one(Person, "p").created_at
    assert back == given
    assert back.tzinfo is UTC


def test_moments_of_different_zones_are_compared_as_moments(database) -> None:
    noon = datetime(2024, 3, 1, 12, tzinfo=UTC)
    with database.write.begin() as session:
        session.add(Person(id="before", created_at=noon - timedelta(minutes=1)))
        session.add(Person(id="after", created_at=noon + timedelta(minutes=1)))
    with database.read() as session:
        found = session.scalars(
            select(Person.id).where(Person.created_at > noon.astimezone(BANGALORE))
        ).all()
    assert found == ["after"]


def test_no_moment_stays_no_moment(database) -> None:
    with database.write.begin() as session:
        session.add(Person(id="p"))
        session.flush()
        session.add(Token(id="t", person_id="p", digest="0" * 64, label="invented"))
    with database.read() as session:
        assert session.get_one(Token, "t").expires_at is None


def test_a_moment_without_a_zone_is_refused(database) -> None:
    naive = now().replace(tzinfo=None)
    with (
        pytest.raises(StatementError, match="no time zone"),
        database.write.begin() as session,
    ):
        session.add(Person(created_at=naive))


def test_later_identifiers_sort_after_earlier_ones() -> None:
    identifiers = [new_id() for _ in range(1000)]
    assert identifiers == sorted(set(identifiers))
    assert {len(identifier) for identifier in identifiers} == {32}


def test_every_table_with_a_version_uses_it_to_find_conflicts() -> None:
    versioned = {m.class_ for m in Base.registry.mappers if "version" in m.columns}
    assert versioned >= {Group, Design, Report}
    for mapper in Base.registry.mappers:
        expected = mapper.columns.get("version")
        assert mapper.version_id_col is expected, mapper.class_.__name__


def test_a_change_of_something_that_changed_meanwhile_is_refused(database, plant) -> None:
    with database.write.begin() as session:
        report = plant(session, "Invented Group").report()
        session.add(report)
    with database.read() as session:
        stale = session.get_one(Report, report.id)
    with database.write.begin() as session:
        session.get_one(Report, report.id).fit_score = 1
    stale.fit_score = -1
    with pytest.raises(StaleDataError), database.write.begin() as session:
        session.add(stale)
    with database.read() as session:
        kept = session.get_one(Report, report.id)
    assert (kept.fit_score, kept.version) == (1, 2)


def test_a_deletion_of_something_that_changed_meanwhile_is_refused(database) -> None:
    with database.write.begin() as session:
        session.add(Group(id="g", name="Invented Group"))
    with database.read() as session:
        stale = session.get_one(Group, "g")
    with database.write.begin() as session:
        session.get_one(Group, "g").name = "Renamed Group"
    with pytest.raises(StaleDataError), database.write.begin() as session:
        session.delete(stale)
    with database.read() as session:
        assert session.get_one(Group, "g").name == "Renamed Group"
