"""How long do defaults take? Run: PYTHONPATH=. python .bench/defaults.py.

Twelve sizes and 100,000 invented reports, each on a foot of its own, answered from a stored
calibration; beside it, in the same process and in turn, what it takes to read the reports at all.
Seconds describe the machine; the ratio does not.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from decisions.feet import FootSource

from migrations import runner
from models.actions import activations, design_defaults, groups, keep_designs, sizes
from models.actions.actor import Actor, operator
from models.actions.evidence import evidence_of
from models.learning.calibration import calibrate
from models.learning.evidence import Evidence
from models.tables.base import new_id, now
from models.tables.bulk import insert_columns
from models.tables.engine import Database
from models.tables.learned import Calibration
from models.tables.people import Member
from models.tables.socks import Foot, Report

REPORTS, PEOPLE, SIZES, ROUNDS = 100_000, 5_000, 12, 5
CALIBRATED_FROM = 2_000
SOCK = {
    "yarn_weight": 1,
    "stitches_per_10cm": 30.0,
    "rounds_per_10cm": 42.0,
    "heel_stitches": 64,
    "decreases_per_round": 4,
    "plain_rounds": 3,
    "medium_decrease_rounds": 2,
    "fast_decrease_rounds": 1,
    "version": 1,
}


def main() -> None:
    """Fill a database, then time the defaults and the reading in turn."""
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{folder}/bench.db"
        runner.upgrade(url)
        database = Database(url)
        actor, design_id = _filled(database)
        _calibrated(database, actor)
        spent: dict[str, list[float]] = {"defaults": [], "reading the reports": []}
        for _ in range(ROUNDS):
            spent["defaults"].append(_seconds(lambda: _defaults(database, actor, design_id)))
            spent["reading the reports"].append(_seconds(lambda: _evidence(database, actor)))
        database.close()
    for name, seconds in spent.items():
        print(f"{name}: {np.median(seconds):.2f} s (least {min(seconds):.2f})")


def _filled(database: Database) -> tuple[Actor, str]:
    draw = np.random.default_rng(0)
    with database.write.begin() as session:
        group, _ = groups.create_group(session, "Invented group", "Invented steward")
        actor = operator(group.id)
        design_id = keep_designs.create_design(session, actor, "Invented heel")
        design = keep_designs.own_design(session, actor, design_id)
        ids = [sizes.add_size(session, actor, design, _size(k)).id for k in range(SIZES)]
        same = {"group_id": [group.id] * REPORTS, "created_at": [now()] * REPORTS}
        people = [new_id() for _ in range(PEOPLE)]
        members = {
            "id": people,
            "group_id": [group.id] * PEOPLE,
            "name": [f"Invented {n}" for n in range(PEOPLE)],
            "role": ["knitter"] * PEOPLE,
            "joined_at": [now()] * PEOPLE,
            "version": [1] * PEOPLE,
        }
        insert_columns(session.connection(), Member.__table__, members)
        whose = [people[n] for n in draw.integers(0, PEOPLE, REPORTS)]
        feet = {name: values.tolist() for name, values in FootSource().draw(draw, REPORTS).items()}
        foot_ids = [new_id() for _ in range(REPORTS)]
        own = {"id": foot_ids, "member_id": whose, **feet, **same}
        insert_columns(session.connection(), Foot.__table__, own)
        reports = {
            "id": [new_id() for _ in range(REPORTS)],
            "member_id": whose,
            "foot_id": foot_ids,
            "design_id": [design_id] * REPORTS,
            "size_id": [ids[n] for n in draw.integers(0, SIZES, REPORTS)],
            "slow_decrease_rounds": draw.integers(0, 8, REPORTS).tolist(),
            "fit_score": draw.integers(-2, 3, REPORTS).tolist(),
            **{name: [value] * REPORTS for name, value in SOCK.items()},
            "updated_at": same["created_at"],
            **same,
        }
        insert_columns(session.connection(), Report.__table__, reports)
    return actor, design_id


def _size(number: int) -> dict[str, object]:
    length, width = 215 + 7 * number, 200 + 6 * number
    return {
        "label": str(number),
        "foot_length_low_mm": length,
        "foot_length_high_mm": length + 10,
        "foot_circumference_low_mm": width,
        "foot_circumference_high_mm": width + 24,
        "yarn_weight": 1,
        "stitches_per_10cm": 30.0,
        "rounds_per_10cm": 42.0,
        "heel_stitches": 4 * round((width + 12) * 0.9 * 0.3 / 4),
        "closing_stitches": 16,
        "medium_decrease_rounds": 4,
        "plain_rounds": 3,
        "slow_decrease_rounds": 3,
    }


def _calibrated(database: Database, actor: Actor) -> None:
    """Keep a calibration of some of the reports: how many it rests on does not change its size."""
    whole = _evidence(database, actor)
    kept = slice(None, None, REPORTS // CALIBRATED_FROM)
    columns = {name: values[kept] for name, values in whole.columns.items()}
    fitted = calibrate(Evidence.of(columns, whole.reporter[kept]))
    with database.write.begin() as session:
        made = Calibration(
            group_id=actor.group_id,
            number=1,
            reports=fitted.reports,
            reporters=fitted.reporters,
            fingerprint=fitted.fingerprint,
            artefact=fitted.to_json(),
        )
        session.add(made)
        session.flush()
        activations.activate(session, actor, made.id)


def _defaults(database: Database, actor: Actor, design_id: str) -> None:
    with database.read() as session:
        design = keep_designs.own_design(session, actor, design_id)
        design_defaults.read_defaults(session, actor, design, design_defaults.Wishes())


def _evidence(database: Database, actor: Actor) -> Evidence:
    with database.read() as session:
        return evidence_of(session, actor.group_id)


def _seconds(work: Callable[[], object]) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


if __name__ == "__main__":
    main()
