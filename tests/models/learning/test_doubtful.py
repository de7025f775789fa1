"""Which reports are held, and for which reason; all reports here are simulated."""

from __future__ import annotations

import numpy as np
import pytest

from models.domain.foot import MEASUREMENT_NAMES
from models.domain.reviews import Reason
from models.learning.doubtful import MOST_OF_ONE_DAY, Received, copies, floods, reasons
from models.learning.estimator import prior
from models.learning.evidence import COLUMNS, Evidence


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


def undated(evidence: Evidence) -> np.ndarray:
    return np.zeros(evidence.reports, dtype=np.int64)


def found(evidence: Evidence, **changed) -> list[str]:
    everything = np.ones(evidence.reports, dtype=bool)
    told = {
        "day": np.arange(evidence.reports),
        "said": ~everything,
        "counted": everything,
        "waiting": ~everything,
    }
    return list(reasons(prior(), Received(evidence, **{**told, **changed})))


@pytest.mark.parametrize("missing", [(), ("ankle_circumference_mm",), MEASUREMENT_NAMES[2:]])
@pytest.mark.parametrize("step_mm", [5.0, 6.35])
def test_rounded_feet_of_a_clean_pool_are_no_copies(worlds, missing, step_mm: float) -> None:
    collided = 0
    for seed in range(4):
        evidence = pool(worlds, seed, 3000, 250, step_mm)
        for name in missing:
            evidence.columns[name][:] = np.nan
        assert not copies(evidence, undated(evidence)).any()
        rows = np.column_stack([np.nan_to_num(evidence.columns[name]) for name in COLUMNS])
        collided += len(rows) - len(np.unique(rows, axis=0))
    assert collided > 0 or not missing  # else nothing was tried


def test_a_copy_of_a_finely_measured_foot_is_found_and_the_first_stays(worlds) -> None:
    evidence = pool(worlds, 1, 1, 1)
    copied = taken(evidence, [0, 0, 0], [4, 7, 4])
    assert copies(copied, undated(copied)).tolist() == [False, True, False]


def test_a_copied_sheet_of_rounded_feet_is_found(worlds) -> None:
    evidence = pool(worlds, 2, 5, 1, 5.0)
    one = taken(evidence, [0, 0], [4, 7])
    assert not copies(one, undated(one)).any()
    sheet = taken(evidence, [0, 1, 2, 0, 1, 2, 3], [4, 4, 4, 7, 7, 7, 7])
    assert copies(sheet, undated(sheet)).tolist() == [False] * 3 + [True] * 3 + [False]


def test_a_pair_that_coincides_with_another_reporter_s_pair_is_one_coincidence(worlds) -> None:
    pairs = taken(pool(worlds, 3, 1, 1, 5.0), [0] * 4, [4, 4, 7, 7])
    assert not copies(pairs, undated(pairs)).any()


def test_two_measurements_coincide_by_chance(worlds) -> None:
    evidence = pool(worlds, 4, 1, 1)
    for name in MEASUREMENT_NAMES[2:]:
        evidence.columns[name][:] = np.nan
    copied = taken(evidence, [0, 0], [4, 7])
    assert not copies(copied, undated(copied)).any()


def test_a_third_equal_sock_of_one_reporter_is_held_unless_knitted_another_day(worlds) -> None:
    same = taken(pool(worlds, 5, 1, 1), [0] * 4, [3] * 4)
    assert copies(same, undated(same)).tolist() == [False, False, True, True]
    assert not copies(same, np.array([10, 10, 20, 30])).any()


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
    counted = np.array([True, True, True, True, False])
    assert found(told, counted=counted) == ["", "", implausible, copy, ""]


def test_flipped_scores_are_judged_by_what_counts_alone(worlds) -> None:
    draw = np.random.default_rng(7)
    columns = worlds.socks(draw, 30)
    level = worlds.matrix(columns) @ worlds.truth({"excess_depth_cm": 1.4}).vector
    columns["fit_score"] = 2.0 - np.searchsorted((-1.8, -0.85, 0.85, 1.8), level)
    evidence = Evidence({name: columns[name] for name in COLUMNS}, np.zeros(30, dtype=np.int64))
    assert set(found(evidence)) == {Reason.FLIPPED_SIGNS.value}
    few = np.arange(30) < 3
    assert set(found(evidence, counted=few, waiting=~few)) == {""}


def test_no_report_is_no_doubt() -> None:
    empty = Evidence({name: np.zeros(0) for name in COLUMNS}, np.zeros(0, dtype=np.int64))
    assert found(empty) == []
