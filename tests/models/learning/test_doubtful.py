"""Which reports are held, and for which reason; all reports here are simulated."""

from __future__ import annotations

import numpy as np
import pytest

from models.domain.foot import MEASUREMENT_NAMES
from models.domain.reviews import Reason
from models.learning.copies import copies
from models.learning.doubtful import MOST_OF_ONE_DAY, doubted, floods
from models.learning.estimator import prior
from models.learning.evidence import COLUMNS, Evidence
from models.learning.received import COUNTED, DAY, DAY_SAID, ID, SAID, WAITING, WHOSE, WIDTH


def pool(worlds, seed: int, number: int, people: int, step_mm: float = 0.1) -> Evidence:
    draw = np.random.default_rng(seed)
    columns = worlds.socks(draw, number)
    for name in MEASUREMENT_NAMES:
        columns[name] = np.round(columns[name] / step_mm) * step_mm
    truth = worlds.truth.drawn(draw)
    latent = worlds.matrix(columns) @ truth.vector + draw.normal(0, 1, number)
    columns["fit_score"] = np.searchsorted((-1.8, -0.85, 0.85, 1.8), latent) - 2.0
    return Evidence({name: columns[name] for name in COLUMNS}, draw.integers(0, people, number))


def taken(evidence: Evidence, rows, reporters) -> Evidence:
    """Return some rows of evidence under other reporters."""
    columns = {name: values[rows] for name, values in evidence.columns.items()}
    return Evidence(columns, np.asarray(reporters))


def received(evidence: Evidence, told: dict[int, object]) -> np.ndarray:
    """Return evidence as rows in the order in which they came."""
    rows = np.zeros((evidence.reports, WIDTH))
    rows[:, WHOSE], rows[:, COUNTED] = evidence.reporter, 1
    rows[:, ID.stop - 1] = rows[:, DAY] = np.arange(evidence.reports)
    rows[:, SAID] = np.column_stack([evidence.columns[name] for name in COLUMNS])
    for column, values in told.items():
        rows[:, column] = values
    return rows


def places(rows: np.ndarray) -> list[int]:
    return rows[:, ID.stop - 1].astype(int).tolist()


def copied(evidence: Evidence, told: dict[int, object] | None = None) -> list[int]:
    """Return the places of copies."""
    found = list(copies([received(evidence, told or {})]))
    return sorted(places(np.concatenate(found)))


def found(evidence: Evidence, told: dict[int, object] | None = None) -> list[str]:
    """Return the reason of each row, empty where there is none."""
    rows, reasons = doubted(prior(), [received(evidence, told or {})])
    held = dict(zip(places(rows), reasons, strict=True))
    return [held.get(place, "") for place in range(evidence.reports)]


@pytest.mark.parametrize("missing", [(), ("ankle_circumference_mm",), MEASUREMENT_NAMES[2:]])
@pytest.mark.parametrize("step_mm", [5.0, 6.35])
def test_rounded_feet_of_a_clean_pool_are_no_copies(worlds, missing, step_mm: float) -> None:
    collided = 0
    for seed in range(4):
        evidence = pool(worlds, seed, 3000, 250, step_mm)
        for name in missing:
            evidence.columns[name][:] = np.nan
        assert not copied(evidence)
        rows = np.column_stack([np.nan_to_num(evidence.columns[name]) for name in COLUMNS])
        collided += len(rows) - len(np.unique(rows, axis=0))
    assert collided > 0 or not missing  # else nothing was tried


def test_a_copy_of_a_finely_measured_foot_is_found_and_the_first_stays(worlds) -> None:
    evidence = pool(worlds, 1, 1, 1)
    assert copied(taken(evidence, [0, 0, 0], [4, 7, 4])) == [1]


def test_a_copied_sheet_of_rounded_feet_is_found(worlds) -> None:
    evidence = pool(worlds, 2, 5, 1, 5.0)
    one = taken(evidence, [0, 0], [4, 7])
    assert not copied(one)
    sheet = taken(evidence, [0, 1, 2, 0, 1, 2, 3], [4, 4, 4, 7, 7, 7, 7])
    assert copied(sheet) == [3, 4, 5]


def test_a_pair_that_coincides_with_another_reporter_s_pair_is_one_coincidence(worlds) -> None:
    pairs = taken(pool(worlds, 3, 1, 1, 5.0), [0] * 4, [4, 4, 7, 7])
    assert not copied(pairs)


def test_two_measurements_coincide_by_chance(worlds) -> None:
    evidence = pool(worlds, 4, 1, 1)
    for name in MEASUREMENT_NAMES[2:]:
        evidence.columns[name][:] = np.nan
    assert not copied(taken(evidence, [0, 0], [4, 7]))


def test_a_third_equal_sock_of_one_reporter_is_held_unless_knitted_another_day(worlds) -> None:
    same = taken(pool(worlds, 5, 1, 1), [0] * 4, [3] * 4)
    assert copied(same) == [2, 3]
    assert not copied(same, {DAY: [10, 10, 20, 30], DAY_SAID: 1})


@pytest.mark.parametrize(("number", "held"), [(60, 0), (MOST_OF_ONE_DAY, 0), (101, 101)])
def test_a_flood_is_held_as_a_whole_and_a_test_knit_is_not(number: int, held: int) -> None:
    who, day = np.repeat([1, 2], [number, 50]), np.full(number + 50, 739_000)
    counted = np.ones(number + 50, dtype=bool)
    found = floods(who, day, counted, ~counted)
    assert (int(found.sum()), bool(found[number:].any())) == (held, False)


def test_a_season_of_many_reporters_in_one_file_is_no_flood() -> None:
    who = np.repeat(np.arange(100), 40)
    counted = np.ones(4000, dtype=bool)
    assert not floods(who, np.full(4000, 739_000), counted, ~counted).any()


def test_a_flood_that_is_held_already_is_not_let_in_by_slices() -> None:
    waiting = np.arange(150) < 120
    found = floods(np.zeros(150, dtype=np.int64), np.full(150, 739_000), ~waiting, waiting)
    assert found.all()


def test_the_most_tangible_reason_is_given_and_only_what_counts_is_held(worlds) -> None:
    evidence = pool(worlds, 6, 3, 1)
    evidence.columns["foot_length_mm"][2] /= 2.54
    evidence.columns["foot_circumference_mm"][2] /= 2.54
    told = taken(evidence, [0, 1, 2, 0, 2], [0, 0, 0, 1, 1])
    implausible, copy = Reason.IMPLAUSIBLE_FOOT.value, Reason.COPY.value
    assert found(told) == ["", "", implausible, copy, implausible]
    assert found(told, {COUNTED: [1, 1, 1, 1, 0]}) == ["", "", implausible, copy, ""]


def test_flipped_scores_are_judged_by_what_counts_alone(worlds) -> None:
    draw = np.random.default_rng(7)
    columns = worlds.socks(draw, 30)
    level = worlds.matrix(columns) @ worlds.truth({"excess_depth_cm": 1.4}).vector
    columns["fit_score"] = 2.0 - np.searchsorted((-1.8, -0.85, 0.85, 1.8), level)
    evidence = Evidence({name: columns[name] for name in COLUMNS}, np.zeros(30, dtype=np.int64))
    assert set(found(evidence)) == {Reason.FLIPPED_SIGNS.value}
    few = np.arange(30) < 3
    assert set(found(evidence, {COUNTED: few, WAITING: ~few})) == {""}


def test_no_report_is_no_doubt() -> None:
    empty = Evidence({name: np.zeros(0) for name in COLUMNS}, np.zeros(0, dtype=np.int64))
    assert found(empty) == []
    assert doubted(prior(), []).reasons == []
