"""What a group shares follows from its own reports, and obeys the rule of published figures."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from models.actions import calibrations, judging, sharing, wider_pool
from models.actions.actor import operator
from models.actions.erasing import Leaving
from models.actions.judging import Judged
from models.domain.errors import Conflict
from models.learning import calibration as learning
from models.tables.learned import Calibration
from models.tables.people import Member
from models.tables.shared import Contribution
from service.erasing import erase_now

PEOPLE = 60


def calibrate(pool: Any) -> Judged:
    actor = operator(pool.group_id)
    with pool.database.read() as reading:
        judged = judging.calibrated(reading, actor)
    with pool.database.write.begin() as session:
        calibrations.keep_calibration(session, actor, judged)
    return judged


def act(pool: Any, verb: Callable[..., Any], *given: Any) -> None:
    with pool.database.write.begin() as session:
        verb(session, operator(pool.group_id), *given)


def summary(pool: Any) -> dict[str, Any]:
    [row] = pool.rows(Contribution)
    return dict(row.summary)


@pytest.fixture
def known(pool: Any, socks: Any) -> Any:
    """Return a group of sixty people with an active calibration."""
    pool.take(pool.sheets.of(*socks(PEOPLE * 2, PEOPLE)))
    calibrate(pool)
    return pool


def test_a_summary_is_the_same_whether_its_group_uses_the_pool_or_not(
    known: Any, founding: Any, socks: Any
) -> None:
    other = founding()
    other.take(other.sheets.of(*socks(PEOPLE * 3, PEOPLE)))
    calibrate(other)
    act(other, sharing.contribute)
    act(known, sharing.contribute)
    alone = summary(known)
    act(known, sharing.use_pool)
    beside = calibrate(known)
    assert beside.fitted.wider is not None
    act(known, sharing.contribute)
    assert pool_numbers(known) == [1, 2]
    assert summary(known) == alone


def pool_numbers(pool: Any) -> list[int]:
    return [row.number for row in sorted(pool.rows(Calibration), key=lambda row: row.number)]


def test_two_groups_that_use_each_other_do_not_feed_back(
    known: Any, founding: Any, socks: Any
) -> None:
    """Calibrating in turn comes to rest at once: a summary holds nothing of the pool."""
    other = founding()
    other.take(other.sheets.of(*socks(PEOPLE * 3, PEOPLE)))
    calibrate(other)
    for one in (known, other):
        act(one, sharing.contribute)
        act(one, sharing.use_pool)
    fingerprints = []
    for _ in range(3):
        made = [calibrate(one) for one in (known, other)]
        for one in (known, other):
            act(one, sharing.contribute)
        fingerprints.append([judged.fitted.fingerprint for judged in made])
    assert fingerprints[0] == fingerprints[1] == fingerprints[2]


@pytest.mark.parametrize("more", [1, 9])
def test_a_summary_that_differs_by_fewer_than_ten_people_is_not_shared(
    known: Any, socks: Any, more: int
) -> None:
    act(known, sharing.contribute)
    before = summary(known)
    act(known, sharing.revoke)
    fresh = [{**row, "reporter": f"Invented newcomer {n}"} for n, row in enumerate(socks(more))]
    known.take(
        known.sheets.of(*[{**row, "foot_length_mm": 251.3 + n} for n, row in enumerate(fresh)])
    )
    assert calibrate(known).fitted.reporters == PEOPLE + more
    with pytest.raises(Conflict, match="withheld"):
        act(known, sharing.contribute)
    assert known.rows(Contribution) == []
    assert before["people"] == PEOPLE


def test_the_active_calibration_s_pool_is_what_it_is_compared_with(
    known: Any, founding: Any, socks: Any
) -> None:
    """A calibration with a pool is compared with one without: on the same rows they may differ."""
    other = founding()
    other.take(other.sheets.of(*socks(PEOPLE * 3, PEOPLE)))
    calibrate(other)
    act(other, sharing.contribute)
    same = calibrate(known).diagnostics["gaps"]
    assert all(gap["value"] == 0 for gap in same if gap["against"] == "the active calibration")
    act(known, sharing.use_pool)
    changed = calibrate(known).diagnostics["gaps"]
    against = [gap for gap in changed if gap["against"] == "the active calibration"]
    assert against
    assert any(gap["value"] != 0 for gap in against)


def test_a_summary_of_another_version_is_left_out(known: Any, founding: Any) -> None:
    act(known, sharing.contribute)
    with known.database.write.begin() as session:
        row = session.query(Contribution).one()
        row.summary = {**row.summary, "form": "heeldepth summary 0"}
    other = founding()
    with other.database.read() as session:
        assert wider_pool.entries(session, other.group_id) == []


def test_who_is_erased_in_two_groups_is_in_neither_by_way_of_the_pool(
    known: Any, founding: Any, socks: Any
) -> None:
    act(known, sharing.contribute)
    other = founding()
    other.take(other.sheets.of(*socks(24, 12)))
    act(other, sharing.use_pool)
    assert calibrate(other).fitted.wider is not None
    both = {
        pool.group_id: {row.id: None for row in pool.rows(Member) if row.name == "Invented 0"}
        for pool in (known, other)
    }
    done = erase_now(known.database, Leaving(both))
    assert known.rows(Contribution) == []
    [anew] = [row for row in other.rows(Calibration) if row.id in done.calibrations.values()]
    assert learning.wider_of(anew.artefact) is None
