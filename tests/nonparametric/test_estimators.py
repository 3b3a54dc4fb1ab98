"""Identities of the estimators, each with a wrong reading that breaks it."""

import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lifelines import AalenJohansenFitter, KaplanMeierFitter

from cohort.nonparametric import (
    cumulative_incidence,
    occupation,
    product_limit,
    restricted_mean,
    turnbull,
)
from cohort.nonparametric.counts import clopper_pearson

rows = st.lists(
    st.tuples(st.integers(0, 20), st.integers(1, 30), st.integers(0, 2), st.integers(1, 4)),
    min_size=1,
    max_size=25,
)
brackets = st.lists(
    st.tuples(st.integers(0, 12), st.integers(1, 12), st.booleans()), min_size=1, max_size=15
)


def lives(sample):
    table = np.array(sample, dtype=float)
    return table[:, 0], table[:, 0] + table[:, 1], table[:, 2].astype(int), table[:, 3]


def spread(sample):
    table = np.array(sample, dtype=float)
    after = table[:, 0]
    return after, np.where(table[:, 2] == 1, np.inf, after + table[:, 1])


# --- product-limit ---------------------------------------------------------------------------


@given(rows)
@settings(max_examples=60, deadline=None)
def test_product_limit_agrees_with_lifelines_on_late_entry_and_weights(sample):
    # One row that is there throughout: lifelines refuses where nobody is left in between.
    entry, leave, cause, weight = lives([*sample, (0, 99, 0, 1)])
    curve = product_limit(entry, leave, cause > 0, weight)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # lifelines remarks on empty risk sets
        fitted = KaplanMeierFitter().fit(leave, cause > 0, entry=entry, weights=weight)
    theirs = fitted.survival_function_at_times(curve.day).to_numpy()
    np.testing.assert_allclose(curve.estimate, theirs, atol=1e-9)


@given(rows)
@settings(max_examples=60, deadline=None)
def test_shares_stay_between_0_and_1_and_never_rise(sample):
    entry, leave, cause, weight = lives(sample)
    curve = product_limit(entry, leave, cause > 0, weight)
    steps = np.concatenate([[1.0], curve.estimate])
    assert ((curve.estimate >= 0) & (curve.estimate <= 1)).all()
    assert (np.diff(steps) <= 1e-12).all()
    assert (curve.lost <= curve.at_risk).all()


@given(rows, st.integers(0, 2**31))
@settings(max_examples=40, deadline=None)
def test_cutting_a_stay_in_two_changes_nothing(sample, seed):
    entry, leave, cause, _ = lives(sample)
    cut = entry + (leave - entry) * np.random.default_rng(seed).uniform(0.1, 0.9, len(entry))
    whole = product_limit(entry, leave, cause > 0)
    halves = product_limit(
        np.concatenate([entry, cut]),
        np.concatenate([cut, leave]),
        np.concatenate([np.zeros(len(cut), bool), cause > 0]),
    )
    np.testing.assert_allclose(halves.estimate, whole.estimate)
    np.testing.assert_allclose(halves.at_risk, whole.at_risk)
    # The wrong way: an event at the cut as well.
    if (cause > 0).any():
        wrong = product_limit(
            np.concatenate([entry, cut]),
            np.concatenate([cut, leave]),
            np.concatenate([cause > 0, cause > 0]),
        )
        assert len(wrong.day) > len(whole.day)


def test_a_weight_is_a_repetition():
    rng = np.random.default_rng(3)
    entry = rng.integers(0, 5, 30)
    leave = entry + rng.integers(1, 20, 30)
    event = rng.random(30) < 0.6
    weights = rng.multinomial(30, np.full(30, 1 / 30), size=4)
    together = product_limit(entry, leave, event, weights)
    for weight, estimate, at_risk in zip(weights, together.estimate, together.at_risk, strict=True):
        again = np.repeat(np.arange(30), weight)
        alone = product_limit(entry[again], leave[again], event[again])
        np.testing.assert_allclose(alone.at(together.day), estimate)
        there = (entry < together.day[0]) & (leave >= together.day[0])
        assert at_risk[0] == weight[there].sum()


def test_at_risk_is_counted_just_before():
    # Leaves at 5: still there just before 5. Enters at 5: not yet.
    curve = product_limit([0, 0, 5], [5, 5, 9], [True, False, True])
    np.testing.assert_array_equal(curve.day, [5, 9])
    np.testing.assert_array_equal(curve.at_risk, [2, 1])


def test_a_row_never_at_risk_is_refused_with_its_number():
    with pytest.raises(ValueError, match="row 1: exit 3 is not after entry 3"):
        product_limit([0, 3], [2, 3], [True, True])


def test_restricted_mean_of_all_followed_to_the_end_is_their_mean():
    time = np.array([1.0, 2, 4, 7, 12])
    mean, se = restricted_mean(None, time, np.ones(5, bool), 10)
    capped = np.minimum(time, 10)
    assert mean == pytest.approx(capped.mean())
    assert se == pytest.approx(capped.std() / np.sqrt(5))


# --- brackets --------------------------------------------------------------------------------


def test_weekly_brackets_share_nothing():
    after, by = np.array([0.0, 7, 14, 21]), np.array([7.0, 14, 21, np.inf])
    np.testing.assert_allclose(turnbull(after, by).at([7, 14, 21]), [0.75, 0.5, 0.25])


def test_lifelines_reads_brackets_as_closed_which_is_why_it_is_not_used_here():
    after, by = np.array([0.0, 7, 14, 21]), np.array([7.0, 14, 21, np.inf])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        fitted = KaplanMeierFitter().fit_interval_censoring(after, by)
    theirs = fitted.survival_function_.loc[[7, 14, 21], "NPMLE_estimate_upper"]
    # It lays nothing by day 7: the first queen is explained by the lump of the second.
    assert np.abs(theirs - [0.75, 0.5, 0.25]).max() > 0.2


@given(brackets)
@settings(max_examples=60, deadline=None)
def test_no_other_masses_explain_the_brackets_better(sample):
    after, by = spread(sample)
    curve = turnbull(after, by)
    assert curve.mass.sum() == pytest.approx(1)
    assert (curve.mass >= 0).all()
    steps = curve.at(np.arange(0, 30))
    assert (np.diff(steps) <= 1e-12).all()
    # Chance that each bracket holds, from the curve itself; any mixture with other masses on
    # whole days is no better. (Chance at infinity is day 99.)
    days = np.append(np.arange(1, 26), 99.0)
    rng = np.random.default_rng(len(sample))
    for _ in range(10):
        other = rng.dirichlet(np.full(len(days), 0.3))
        holds = (days > after[:, None]) & (days <= by[:, None])
        with np.errstate(divide="ignore"):
            loglik = np.log(holds @ other).sum()
        assert loglik <= curve.loglik + 1e-7


@given(brackets)
@settings(max_examples=30, deadline=None)
def test_a_matrix_of_weights_gives_what_each_row_gives(sample):
    after, by = spread(sample)
    rng = np.random.default_rng(len(sample))
    weights = rng.integers(1, 5, (3, len(after)))
    together = turnbull(after, by, weights)
    for weight, loglik in zip(weights, together.loglik, strict=True):
        again = np.repeat(np.arange(len(after)), weight)
        assert turnbull(after[again], by[again]).loglik == pytest.approx(loglik, abs=1e-6)


def test_without_overlap_brackets_are_plain_counting_and_exact_times_a_product_limit_curve():
    rng = np.random.default_rng(11)
    time = rng.integers(1, 12, 40).astype(float)
    seen = rng.random(40) < 0.7
    exact = turnbull(time, np.where(seen, time, np.inf))
    curve = product_limit(None, time, seen)
    np.testing.assert_allclose(exact.at(curve.day[:-1]), curve.estimate[:-1], atol=1e-6)


def test_a_bracket_that_ends_before_it_begins_is_refused():
    with pytest.raises(ValueError, match="bracket 1"):
        turnbull([0, 9], [4, 5])


# --- competing ends --------------------------------------------------------------------------


@given(rows)
@settings(max_examples=60, deadline=None)
def test_incidences_and_those_still_free_are_one(sample):
    entry, leave, cause, weight = lives(sample)
    told = cumulative_incidence(entry, leave, cause, weight, causes=(1, 2))
    np.testing.assert_allclose(told.estimate.sum(axis=0) + told.free, 1)
    assert (np.diff(told.estimate, axis=1) >= -1e-12).all()
    assert (told.estimate.sum(axis=0) <= 1 + 1e-12).all()


def test_one_minus_the_curve_of_one_cause_claims_too_much():
    # The wrong way: treat the other cause as censoring. The two shares then pass 1.
    leave, cause = np.arange(1, 9), np.tile([1, 2], 4)
    right = cumulative_incidence(None, leave, cause).estimate[:, -1]
    wrong = [1 - product_limit(None, leave, cause == k).estimate[-1] for k in (1, 2)]
    assert right.sum() == pytest.approx(1)
    assert sum(wrong) > 1.5


def test_ties_are_taken_as_they_are_and_the_order_of_rows_is_nothing():
    leave, cause = np.array([5, 5, 5, 5, 9]), np.array([1, 2, 1, 0, 0])
    told = cumulative_incidence(None, leave, cause)
    np.testing.assert_allclose(told.estimate[:, 0], [2 / 5, 1 / 5])
    turned = cumulative_incidence(None, leave[::-1], cause[::-1])
    np.testing.assert_array_equal(turned.estimate, told.estimate)


def test_lifelines_shifts_ties_at_random_which_is_why_it_is_not_used_here():
    leave, cause = np.array([5.0, 5, 5, 5, 9, 9]), np.array([1, 2, 0, 0, 1, 0])
    ours = cumulative_incidence(None, leave, cause).estimate[0, -1]
    assert ours == pytest.approx(1 / 6 + 4 / 6 / 2)
    theirs = set()
    for seed in range(6):
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # it says so itself
            fitter = AalenJohansenFitter(seed=seed, calculate_variance=False)
            fitted = fitter.fit(leave, cause, event_of_interest=1)
        theirs.add(round(float(fitted.cumulative_density_.iloc[-1, 0]), 9))
    assert len(theirs) > 1


@given(rows)
@settings(max_examples=40, deadline=None)
def test_states_with_one_way_out_are_the_incidence_of_it(sample):
    _, stay, cause, _ = lives(sample)
    told = occupation(
        np.arange(len(stay)), np.zeros(len(stay)), stay, np.zeros(len(stay)), cause, [1, 0, 0]
    )
    other = cumulative_incidence(None, stay, cause, causes=(1, 2))
    np.testing.assert_allclose(told.estimate[1:], other.estimate)
    np.testing.assert_allclose(told.estimate.sum(axis=0), 1)
    np.testing.assert_allclose(told.at_risk, other.at_risk)


# --- exact limits ----------------------------------------------------------------------------


@given(st.integers(1, 60), st.data())
@settings(max_examples=40, deadline=None)
def test_exact_limits_hold_the_share_and_mirror(n, data):
    x = data.draw(st.integers(0, n))
    low, high = clopper_pearson(x, n)
    assert low <= x / n <= high
    assert clopper_pearson(n - x, n) == pytest.approx((1 - high, 1 - low))
    wide = clopper_pearson(x, n, level=0.99)
    assert wide[0] <= low
    assert wide[1] >= high
