"""Defaults of an invented design, from geometry and from simulated reports."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from models.domain.gauge import Gauge
from models.domain.policy import Policy
from models.learning.calibration import calibrate, geometry_alone
from models.learning.defaults import by_foot, defaults, geometry_asks
from models.learning.evidence import COLUMNS, Evidence
from models.learning.outcomes import shares
from models.learning.splitting import WORTH_IT, best_split
from models.learning.target_feet import survey_feet

WIDE = {"foot_length_mm": (225, 285), "foot_circumference_mm": (205, 265)}


def table(found):
    return [default.best.slow_decrease_rounds for default in found.sizes]


def reports_of(size, scores, slow):
    """Return a report by somebody else for each score, on the size's feet, at some rounds."""
    n = len(scores)
    feet = {name: np.resize(values, n) for name, values in size.feet.columns.items()}
    policy = size.policy
    same = {
        "yarn_weight": size.yarn_weight,
        "stitches_per_10cm": size.gauge.stitches_per_10cm,
        "rounds_per_10cm": size.gauge.rounds_per_10cm,
        "heel_stitches": policy.heel_stitches,
        "decreases_per_round": policy.decreases_per_round,
        **policy.schedule(slow).counts,
    }
    columns = {**feet, **{name: np.full(n, float(value)) for name, value in same.items()}}
    columns["fit_score"] = np.array(scores, dtype=float)
    return Evidence.of({name: columns[name] for name in COLUMNS}, np.arange(n))


def test_each_size_has_the_rounds_with_the_highest_mean_chance_where_the_rules_let_it(five_sizes):
    found = defaults(geometry_alone(), five_sizes)
    for default in found.sizes:
        size = default.size
        steps = size.steps_cm(size.policy.plain_rounds)
        mean = size.feet.weight @ shares(found.calibration.figures, size.terms, steps).just_right
        assert default.alone.slow_decrease_rounds == int(np.argmax(mean))
        assert default.best.shares.just_right == pytest.approx(
            mean[default.best.slow_decrease_rounds]
        )
        assert default.best.shares.just_right <= default.alone.shares.just_right
        assert default.today.slow_decrease_rounds == size.slow_decrease_rounds
        assert default.low <= default.best.slow_decrease_rounds <= default.high
        total = sum(vars(default.best.shares).values())
        assert total == pytest.approx(1)


def test_the_table_rises_with_the_feet_and_has_no_jumps(five_sizes):
    found = defaults(geometry_alone(), five_sizes)
    asked = [geometry_asks(size) for size in five_sizes]
    for (before, after), (less, more) in zip(pairwise(table(found)), pairwise(asked), strict=True):
        assert less <= more
        assert 0 <= after - before <= 2


def test_the_order_of_the_sizes_does_not_matter(five_sizes):
    assert by_foot(five_sizes[::-1]) == [4, 3, 2, 1, 0]
    forth, back = (defaults(geometry_alone(), order) for order in (five_sizes, five_sizes[::-1]))
    assert table(back) == table(forth)[::-1]


def test_where_geometry_asks_for_fewer_on_a_larger_foot_fewer_are_right(size_heel):
    # A larger foot whose size has many more heel stitches: they cover more of it.
    small = size_heel(1)
    large = size_heel(2, policy=Policy(96, 20, 2))
    assert geometry_asks(large) < geometry_asks(small)
    found = defaults(geometry_alone(), [small, large])
    assert table(found)[1] < table(found)[0]


def test_a_jump_needs_the_designer_s_word_and_is_shown(size_heel):
    # The next size is knitted much more finely, so the same depth takes many more rounds.
    small, fine = size_heel(1), size_heel(2, gauge=Gauge(30, 60))
    kept, jumping = (
        defaults(geometry_alone(), [small, fine], allow_jumps=allowed) for allowed in (False, True)
    )
    first, second = table(jumping)
    assert second - first > 2
    assert table(kept)[1] - table(kept)[0] == 2
    assert kept.sizes[1].alone.slow_decrease_rounds == second


def test_plain_rounds_only_ever_help(five_sizes):
    kept, chosen = (
        defaults(geometry_alone(), five_sizes, choose_plain=choose) for choose in (False, True)
    )
    total = [sum(one.best.shares.just_right for one in found.sizes) for found in (kept, chosen)]
    assert total[1] >= total[0]
    assert {one.best.plain_rounds for one in kept.sizes} == {3}
    assert {one.best.plain_rounds for one in chosen.sizes} <= {2, 3, 4, 5, 6}


def test_reports_on_one_size_move_the_sizes_beside_it(five_sizes):
    shallow = reports_of(five_sizes[2], [-2] * 30, 5)
    before, after = (
        defaults(calibration, five_sizes, allow_jumps=True)
        for calibration in (geometry_alone(), calibrate(shallow))
    )
    assert table(after)[2] > table(before)[2]
    assert table(after)[1] > table(before)[1]
    assert table(after)[3] > table(before)[3]


def test_one_report_moves_a_default_by_little_and_narrows_its_range_by_little(five_sizes):
    one = calibrate(reports_of(five_sizes[2], [-1], 5))
    before, after = (defaults(c, five_sizes).sizes[2] for c in (geometry_alone(), one))
    moved = after.best.slow_decrease_rounds - before.best.slow_decrease_rounds
    assert 0 <= moved <= 1
    assert after.high - after.low >= before.high - before.low - 1


def test_contradicting_reports_leave_the_default_about_where_geometry_had_it(five_sizes):
    before = defaults(geometry_alone(), five_sizes).sizes[2]
    now = before.best.slow_decrease_rounds
    torn = calibrate(reports_of(five_sizes[2], [-2, 2] * 20, now))
    after = defaults(torn, five_sizes).sizes[2]
    assert abs(after.best.slow_decrease_rounds - now) <= 1
    # People who disagree this much cannot all be served.
    agreed = calibrate(reports_of(five_sizes[2], [0] * 40, now))
    served = defaults(agreed, five_sizes).sizes[2].best.shares.just_right
    assert after.best.shares.just_right < served - 0.2


def test_more_reports_make_the_range_narrower(worlds_, five_sizes):
    draw = np.random.default_rng(8)
    truth = worlds_.truth({"excess_depth_cm": 1.35}, reporter_sd=0.4)
    many = calibrate(worlds_.evidence(draw, truth, 1000))
    wide, narrow = (
        sum(one.high - one.low for one in defaults(calibration, five_sizes).sizes)
        for calibration in (geometry_alone(), many)
    )
    assert narrow < wide / 2


def test_reports_the_wrong_way_round_do_not_answer(worlds_, five_sizes):
    draw = np.random.default_rng(8)
    wrong = worlds_.truth({"excess_depth_cm": -1.35})
    backwards = calibrate(worlds_.evidence(draw, wrong, 1000))
    found = defaults(backwards, five_sizes)
    assert not found.established
    assert table(found) == table(defaults(geometry_alone(), five_sizes))


def sure(calibration):
    """Return a calibration as if its coefficients were known."""
    posterior = calibration.posterior
    known = replace(posterior, covariance=posterior.covariance * 1e-4, offset_sd=0.1)
    return replace(calibration, posterior=known)


def test_a_size_for_everybody_is_split_where_it_helps_most(size_heel):
    feet = survey_feet(WIDE)
    calibration = sure(geometry_alone())
    size = size_heel(2, feet=feet)
    default = defaults(calibration, [size]).sizes[0]
    split = default.split
    assert split is not None
    assert split.measurement == "heel_diagonal_mm"
    assert split.above == (split.change > 0)
    assert split.gain >= WORTH_IT
    # By brute force: nobody on the other side is moved.
    steps = size.steps_cm(size.policy.plain_rounds)
    slow = default.best.slow_decrease_rounds
    chances = shares(calibration.figures, size.terms, steps).just_right
    over = feet.columns[split.measurement] > split.cut_mm
    side = over if split.above else ~over
    moved = np.where(side, chances[:, slow + split.change], chances[:, slow])
    assert feet.weight @ (moved - chances[:, slow]) == pytest.approx(split.gain)


def test_a_size_that_one_heel_serves_is_not_split(five_sizes):
    assert all(one.split is None for one in defaults(geometry_alone(), five_sizes).sizes)
    narrow = five_sizes[1]
    assert best_split(geometry_alone().figures, narrow, 3, 5) is None


def test_where_many_reports_contradict_the_geometry_a_larger_size_may_have_fewer(five_sizes):
    pooled = [
        reports_of(size, [score] * 60, 5)
        for size, score in zip(five_sizes, (-2, -1, 0, 1, 2), strict=True)
    ]
    columns = {name: np.concatenate([one.columns[name] for one in pooled]) for name in COLUMNS}
    falling = calibrate(Evidence.of(columns, np.arange(300)))
    found = defaults(falling, five_sizes)
    assert table(found)[4] < table(found)[0]
    assert any(default.falls_back for default in found.sizes)
    assert not any(d.falls_back for d in defaults(geometry_alone(), five_sizes).sizes)
