"""Groups' summaries together: statsmodels' meta-analysis says the same. All groups are invented."""

from __future__ import annotations

import numpy as np
import pytest
from statsmodels.stats.meta_analysis import combine_effects

from models.learning.factor import Factor
from models.learning.pooling import (
    GROUPS,
    OFFSET_SD,
    believed_variance,
    between_variance,
    group_variance,
    pooled,
)
from models.learning.summary import Summary
from models.learning.terms import EXCESS, INTERCEPT, TERM_NAMES

LEVEL, SLOPE = TERM_NAMES.index(INTERCEPT), TERM_NAMES.index(EXCESS)


def group(number: int, **told: tuple[float, float]) -> Summary:
    """Return a summary with estimates and precisions of some terms."""
    precision, estimate = np.zeros(len(TERM_NAMES)), np.zeros(len(TERM_NAMES))
    for name, (value, weight) in told.items():
        place = TERM_NAMES.index(name)
        estimate[place], precision[place] = value, weight
    return Summary(f"{number:032x}", 50 + number, 600, Factor(precision, estimate))


@pytest.mark.parametrize("seed", range(5))
def test_the_variance_between_groups_is_that_of_statsmodels(seed: int) -> None:
    draw = np.random.default_rng(seed)
    estimates, variances = draw.normal(0, 1, 9), draw.uniform(0.1, 0.6, 9)
    published = combine_effects(estimates, variances, method_re="dl")
    assert between_variance(estimates, variances) == pytest.approx(published.tau2, rel=1e-9)


def test_groups_that_lie_closer_than_chance_have_no_variance_between_them() -> None:
    assert between_variance(np.array([1.0, 1.01]), np.array([1.0, 1.0])) == 0.0


def test_many_groups_are_put_together_as_statsmodels_does() -> None:
    """With 200 groups hardly anything is left of what was believed of their variance."""
    draw = np.random.default_rng(3)
    estimates, variances = draw.normal(0.4, 0.7, 200), draw.uniform(0.1, 0.6, 200)
    groups = [
        group(number, intercept=(value, 1 / variance))
        for number, (value, variance) in enumerate(zip(estimates, variances, strict=True))
    ]
    found = pooled(groups)
    published = combine_effects(estimates, variances, method_re="dl")
    assert found is not None
    assert found.factor.estimate[LEVEL] == pytest.approx(published.mean_effect_re, abs=0.002)
    new_group = published.tau2 + published.var_eff_w_re
    assert 1 / found.factor.precision[LEVEL] == pytest.approx(new_group, rel=0.03)
    assert (found.groups, found.people) == (200, sum(one.people for one in groups))


def test_one_group_leaves_its_offset_and_the_new_one_s_unknown() -> None:
    found = pooled([group(1, intercept=(0.5, 25.0))])
    assert found is not None
    assert found.factor.estimate[LEVEL] == 0.5
    assert 1 / found.factor.precision[LEVEL] == pytest.approx(1 / 25 + 2 * OFFSET_SD**2)


def test_groups_on_different_levels_say_little_of_the_next_level_and_much_of_the_slope() -> None:
    same = [group(n, intercept=(0.3, 50.0), excess_depth_cm=(1.5, 400.0)) for n in range(5)]
    shifts = (-1.0, -0.5, 0.3, 1.1, 1.6)
    apart = [
        group(n, intercept=(shift, 50.0), excess_depth_cm=(1.5, 400.0))
        for n, shift in enumerate(shifts)
    ]
    alike, shifted = pooled(same), pooled(apart)
    assert alike is not None
    assert shifted is not None
    assert shifted.factor.precision[LEVEL] < alike.factor.precision[LEVEL] / 4
    assert shifted.factor.precision[SLOPE] == alike.factor.precision[SLOPE]


def test_the_variance_of_group_effects_is_held_near_the_belief_while_groups_are_few() -> None:
    apart, sure = np.array([-1.0, 1.0]), np.full(2, 1e-6)
    assert between_variance(apart, sure) == pytest.approx(2.0, rel=1e-3)
    assert group_variance(apart, sure, 0.09) == pytest.approx((GROUPS * 0.09 + 2.0) / 5, rel=1e-3)
    assert group_variance(apart[:1], sure[:1], 0.09) == 0.09
    assert believed_variance()[LEVEL] == OFFSET_SD**2
    assert (believed_variance() > 0).all()


def test_the_order_of_groups_makes_no_difference_to_the_bit() -> None:
    draw = np.random.default_rng(6)
    groups = [group(n, intercept=(draw.normal(), draw.uniform(5, 50))) for n in range(12)]
    one, two = pooled(groups), pooled(groups[::-1])
    assert one is not None
    assert one.says_the_same_as(two)
    assert not one.says_the_same_as(pooled(groups[:-1]))
    assert not one.says_the_same_as(None)


def test_no_group_is_no_pool_and_silence_stays_silent() -> None:
    assert pooled([]) is None
    found = pooled([group(1, intercept=(0.5, 25.0)), group(2)])
    assert found is not None
    assert found.factor.precision[SLOPE] == 0.0
