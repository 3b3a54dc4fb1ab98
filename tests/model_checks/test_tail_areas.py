"""Tail areas against exact ones, margins by hand, false discoveries against a published example."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import binom, norm

from cohort.model.tail_areas import (
    beyond,
    flagged,
    given_margins,
    spread_evenly,
    tail_area,
    weights,
)


def test_half_of_those_equal_to_what_was_seen_count():
    drawn = np.array([0.0, 1.0, 1.0, 2.0])
    assert beyond(drawn, 1.0) == pytest.approx((1 + 0.5 * 2) / 4)
    assert beyond(drawn, 0.0) == pytest.approx((3 + 0.5) / 4)
    assert tail_area(drawn, 1.0) == 1.0


def test_counts_spread_over_half_a_unit_have_the_exact_mid_p():
    rng = np.random.default_rng(1)
    drawn = spread_evenly(rng.binomial(12, 0.3, 200_000).astype(float), rng)
    for seen in (0, 2, 7):
        mid = binom.sf(seen, 12, 0.3) + 0.5 * binom.pmf(seen, 12, 0.3)
        assert beyond(drawn, float(seen)) == pytest.approx(mid, abs=0.004)
    # the whole of those equal, the wrong variant, is far off
    assert abs(binom.sf(1, 12, 0.3) - beyond(drawn, 2.0)) > 0.08


@pytest.mark.parametrize("seen", [2.5, 3.0, 3.5, 4.0])
def test_a_normal_tail_is_carried_on_beyond_the_replicates(seen):
    drawn = norm.ppf((np.arange(2000) + 0.5) / 2000)
    assert 0.8 < beyond(drawn, seen) / norm.sf(seen) < 2.2
    assert beyond(drawn, 4.0) < 0.5 / 2000  # what counting alone could say


@pytest.mark.parametrize("seen", [11.0, 13.0, 15.0])
def test_a_tail_of_counts_is_carried_on(seen):
    rng = np.random.default_rng(3)
    drawn = spread_evenly(rng.poisson(4.0, 2000).astype(float), rng)
    many = spread_evenly(rng.poisson(4.0, 20_000_000).astype(float), rng)
    exact = (many > seen).mean()
    assert 0.4 < beyond(drawn, seen) / exact < 4.0


def test_one_half_given_the_whole():
    """Two keepers' losses a and b: given the sum, a - (a + b) / 2 = (a - b) / 2 is left."""
    rng = np.random.default_rng(2)
    rate = rng.gamma(20, 1.0, 20_000)  # what the fit does not know, shared by both
    a, b = rng.poisson(rate), rng.poisson(rate)
    moved, expected = given_margins(a.astype(float), 30.0, (a + b)[:, None].astype(float),
                                    np.array([44.0]))  # fmt: skip
    assert expected == pytest.approx(22.0, abs=0.1)
    assert moved.mean() == pytest.approx(expected)
    assert moved.std() == pytest.approx(((a - b) / 2).std(), rel=0.02)
    assert tail_area(moved, 30.0) < 0.3 * tail_area(a.astype(float), 30.0)


def test_a_group_that_is_the_whole_has_nothing_to_tell():
    a = np.random.default_rng(0).poisson(9.0, 500).astype(float)
    assert given_margins(a, 12.0, np.stack([a, a + 1], axis=1), np.array([12.0, 13.0])) is None
    assert given_margins(a, 12.0, np.zeros((500, 0)), np.zeros(0))[1] == a.mean()


PUBLISHED = np.array([0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459,
                      0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1.0])  # fmt: skip
"""Benjamini & Hochberg 1995, section 4 (15 comparisons of two treatments); from memory."""


def test_the_published_example_flags_four():
    none = np.zeros(15, np.int64)
    assert flagged(PUBLISHED, none).tolist() == [True] * 4 + [False] * 11
    assert (PUBLISHED <= 0.05 / 15).sum() == 3  # Bonferroni, as the paper has it
    assert (PUBLISHED <= 0.05).sum() == 9


def test_each_family_has_its_share_of_the_alarms():
    family = np.array([0, 0, 1, 1, 1, 1, 1, 1, 1, 1])
    assert weights(family) == pytest.approx([2.5] * 2 + [0.625] * 8)
    area = 0.05 / 10 * 2  # too large for one in ten, small enough for one with weight 2.5
    areas = np.ones(10)
    areas[0] = area
    assert flagged(areas, family).tolist() == [True] + [False] * 9
    areas = np.ones(10)
    areas[5] = area
    assert not flagged(areas, family).any()
    assert not flagged(np.zeros(0), np.zeros(0, np.int64)).any()


def test_false_alarms_come_in_one_study_of_twenty():
    rng = np.random.default_rng(5)
    family = np.repeat([0, 1, 2], [8, 32, 20])
    alarms = sum(flagged(rng.uniform(size=60), family).any() for _ in range(4000))
    assert alarms / 4000 == pytest.approx(0.05, abs=4 * math.sqrt(0.05 * 0.95 / 4000))
