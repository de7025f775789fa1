"""Outcomes over HTTP."""

from __future__ import annotations

from typing import Any


def test_every_member_reads_the_outcomes_of_a_calibration(world: Any) -> None:
    made = world.mine.steward.make("/calibrations")["id"]
    for n in range(10):
        told = world.report(reporter=f"Invented {n}", foot=world.foot(foot_length_mm=240 + n))
        world.mine.steward.make("/reports", told)
    found = world.mine.steward.get(f"/calibrations/{made}/outcomes").json
    assert (found["reports"], found["reporters"]) == (10, 10)
    assert (found["achieved"], found["drift"], found["withheld"]) == (1.0, False, None)
    (band,) = found["table"]
    assert (band["reports"], band["low"], band["high"]) == (10, 0.0, 1.0)
    assert 0.2 < band["stated"] < 0.8
    coarse = world.mine.knitter.get(f"/calibrations/{made}/outcomes").json
    assert (coarse["drift"], coarse["table"]) == (False, [])
    figures = ("stated", "achieved", "shift", "shift_low", "shift_high")
    assert [coarse[name] for name in figures] == [None] * 5
    assert "designers and stewards" in coarse["withheld"]
    assert coarse["text"] == "Since then heels scored as was stated, as far as chance can tell."


def test_of_few_people_nothing_is_shown(world: Any) -> None:
    made = world.mine.steward.make("/calibrations")["id"]
    world.mine.knitter.make("/reports", world.report())
    found = world.mine.steward.get(f"/calibrations/{made}/outcomes").json
    assert (found["reports"], found["achieved"], found["drift"]) == (1, None, None)
    assert found["withheld"] == "too few people yet"
