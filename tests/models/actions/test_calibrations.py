"""Calibrations of invented reports, on both databases."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import orjson
import pytest

from models.actions import activations, calibrations, judging
from models.actions.actor import Actor
from models.actions.evidence import evidence_of
from models.actions.suggestions import ask
from models.domain.errors import Forbidden, NotFound
from models.domain.foot import MEASUREMENT_NAMES
from models.domain.roles import Role
from models.learning.calibration import FEWEST_REPORTERS_SHOWN
from models.learning.evidence import COLUMNS
from models.learning.terms import WIDTH_NAMES
from models.tables.learned import Activation, Calibration
from models.tables.socks import Foot, Report

AT_ONCE = 8

QUESTION = {
    "foot": {"foot_length_mm": 252, "foot_circumference_mm": 236, "heel_diagonal_mm": 318},
    "yarn_weight": 1,
    "stitches_per_10cm": 30,
    "rounds_per_10cm": 42,
    "heel_stitches": 64,
    "closing_stitches": 16,
    "medium_decrease_rounds": 4,
}


def calibrated(pool, *, activate: bool = False) -> Calibration:
    """Calibrate a pool, and keep the result in a transaction of its own."""
    with pool.database.read() as session:
        judged = judging.calibrated(session, pool.steward)
    with pool.database.write.begin() as session:
        return calibrations.keep_calibration(session, pool.steward, judged, activate=activate)


def test_calibrations_made_at_once_are_numbered_in_turn(pool, founding, socks) -> None:
    pool.take(pool.sheets.of(*socks(20)))
    other = founding()
    with ThreadPoolExecutor(AT_ONCE) as many:
        made = list(many.map(calibrated, [pool, other] * AT_ONCE))
    numbers = sorted(one.number for one in made if one.group_id == pool.group_id)
    assert numbers == list(range(1, AT_ONCE + 1))
    assert sorted(one.number for one in pool.rows(Calibration)) == numbers
    assert len(other.rows(Calibration)) == AT_ONCE
    assert len({one.fingerprint for one in made}) == 2


def test_activating_twice_is_activating_once(pool, socks) -> None:
    pool.take(pool.sheets.of(*socks(20)))
    first, second = calibrated(pool, activate=True), calibrated(pool)
    for chosen in (first, first, second, second, first):
        with pool.database.write.begin() as session:
            activations.activate(session, pool.steward, chosen.id)
            assert activations.active_id(session, pool.group_id) == chosen.id
    kept = [one.calibration_id for one in sorted(pool.rows(Activation), key=lambda one: one.id)]
    assert kept == [first.id, second.id, first.id]


def test_a_new_calibration_answers_only_once_it_is_activated(pool, socks) -> None:
    pool.take(pool.sheets.of(*socks(40)))
    made = calibrated(pool)
    with pool.database.write.begin() as session:
        before = ask(session, pool.steward, QUESTION)
        activations.activate(session, pool.steward, made.id)
        after = ask(session, pool.steward, QUESTION)
    assert (before["calibration_id"], after["calibration_id"]) == (None, made.id)
    assert before["evidence"] == {"reports": 0, "reporters": 0}
    assert after["evidence"] == {"reports": 40, "reporters": 10}, "12 people, in tens"


def test_the_evidence_is_what_the_rows_say(pool, founding, socks) -> None:
    pool.take(pool.sheets.of(*socks(30)))
    founding().take(pool.sheets.of(*socks(5)))
    with pool.database.read() as session:
        evidence = evidence_of(session, pool.group_id)
    feet = {foot.id: foot for foot in pool.rows(Foot)}
    expected = sorted(
        [
            repr(getattr(feet[row.foot_id] if name in MEASUREMENT_NAMES else row, name))
            for name in COLUMNS
        ]
        for row in pool.rows(Report)
    )
    table = np.column_stack([evidence.columns[name] for name in COLUMNS]).tolist()
    whole = {name for name in COLUMNS if not name.endswith(("_mm", "_10cm"))}
    found = sorted(
        [
            "None" if value != value else repr(int(value) if name in whole else value)  # noqa: PLR0124
            for name, value in zip(COLUMNS, row, strict=True)
        ]
        for row in table
    )
    assert found == expected
    assert (evidence.reports, evidence.reporters) == (30, 12)


def test_a_group_without_reports_is_calibrated_to_the_geometry(pool) -> None:
    made = calibrated(pool, activate=True)
    with pool.database.write.begin() as session:
        after = ask(session, pool.steward, QUESTION)
        shown = calibrations.read_calibration(session, pool.steward, made.id)
    assert (made.reports, made.reporters, after["evidence"]["reports"]) == (0, 0, 0)
    assert shown["withheld"] is None
    means = {one["term"]: one["mean"] for one in shown["coefficients"]}
    assert (means.pop("excess_depth_cm"), means.pop("habit_cm")) == (1.4, -0.7)
    widths = [means.pop(name) for name in WIDTH_NAMES]
    assert np.exp(widths) == pytest.approx([0.95, 1.7, 0.95])
    assert set(means.values()) == {0.0}


@pytest.mark.parametrize("reporters", [1, FEWEST_REPORTERS_SHOWN - 1, FEWEST_REPORTERS_SHOWN])
def test_coefficients_of_few_people_are_withheld(pool, socks, reporters: int) -> None:
    pool.take(pool.sheets.of(*socks(60, reporters)))
    made = calibrated(pool)
    with pool.database.read() as session:
        shown = calibrations.read_calibration(session, pool.steward, made.id)
    assert FEWEST_REPORTERS_SHOWN == 10
    enough = reporters >= FEWEST_REPORTERS_SHOWN
    assert (shown["coefficients"] is not None) is enough
    assert (shown["noise_variance"] is not None) is enough
    assert (shown["withheld"] is None) is enough
    assert (shown["reports"], shown["reporters"]) == (60, reporters)
    seen = made.artefact["seen"]["figures"]["foot_length_mm"][0]
    taken = np.mean([foot["foot_length_mm"] for foot in socks(60, reporters)])
    assert bool(abs(seen - taken) < 1e-9) is enough


def test_refitting_gives_the_same_bits(pool, socks) -> None:
    pool.take(pool.sheets.of(*socks(80)))
    first, second = calibrated(pool), calibrated(pool)
    assert orjson.dumps(first.artefact) == orjson.dumps(second.artefact)
    stored = {one.number: one.artefact for one in pool.rows(Calibration)}
    assert stored == {1: first.artefact, 2: second.artefact}


def test_the_same_reports_in_another_database_give_the_same_bits(
    pool, founding, socks, migrated_file, tmp_path
) -> None:
    pool.take(pool.sheets.of(*socks(80)))
    file = tmp_path / "another.db"
    file.write_bytes(migrated_file.read_bytes())
    other = founding(f"sqlite:///{file}")
    head, *lines = pool.export().splitlines()
    other.take("\n".join([head, *reversed(lines)]))
    one, two = calibrated(pool), calibrated(other)
    assert one.fingerprint == two.fingerprint
    assert orjson.dumps(one.artefact) == orjson.dumps(two.artefact)


def test_one_report_more_gives_another_fingerprint(pool, socks) -> None:
    pool.take(pool.sheets.of(*socks(20)))
    first = calibrated(pool)
    pool.take(pool.sheets.of({}))
    assert calibrated(pool).fingerprint != first.fingerprint


def test_the_calibration_of_another_group_cannot_be_found(pool, founding) -> None:
    made, other = calibrated(pool), founding()
    with pool.database.write.begin() as session:
        for verb in (activations.activate, calibrations.read_calibration):
            with pytest.raises(NotFound):
                verb(session, other.steward, made.id)


def test_a_knitter_may_not_calibrate(pool) -> None:
    knitter = Actor(pool.group_id, Role.KNITTER, pool.steward.member_id, "Invented knitter")
    with pool.database.write.begin() as session, pytest.raises(Forbidden):
        judging.calibrated(session, knitter)
