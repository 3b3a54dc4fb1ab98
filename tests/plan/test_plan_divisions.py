"""Ways to divide queens, what stands out among them, and what each would teach."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from plan_made import KNOWN, basis, spread

from cohort.base.errors import StudyError
from cohort.outcomes.basis import Kind, kind_of, prior_basis
from cohort.plan import plan
from cohort.plan.divisions import MOST, count, divisions, of_two_sizes, partitions, text
from cohort.plan.plan import efficient
from cohort.plan.teach import narrowing

LASIUS = Kind("Lasius", 0)


def test_partition_numbers_are_those_of_the_tables():
    # p(n) = 1, 2, 3, 5, 7, 11, 15, 22, 30, 42; p(100) = 190569292 (Abramowitz & Stegun 1964,
    # table 24.5; from memory)
    assert [count(n, n) for n in range(1, 11)] == [1, 2, 3, 5, 7, 11, 15, 22, 30, 42]
    assert count(100, 100) == 190_569_292
    assert [count(n, 2) for n in range(1, 9)] == [n // 2 + 1 for n in range(1, 9)]


@given(st.integers(1, 18), st.integers(1, 18))
def test_partitions_are_all_different_and_use_every_queen(queens, largest):
    listed = list(partitions(queens, largest))
    assert len(listed) == len(set(listed)) == count(queens, largest)
    assert all(sum(p) == queens and max(p) <= largest for p in listed)


@given(st.integers(1, 16), st.integers(1, 8))
def test_of_two_sizes_is_what_is_left_when_others_are_struck_out(queens, largest):
    wanted = {p for p in partitions(queens, largest) if len(set(p)) <= 2}
    listed = list(of_two_sizes(queens, largest))
    assert len(listed) == len(set(listed))
    assert set(listed) == wanted


def test_sixty_queens_with_large_groups_are_cut_down_to_two_sizes_and_it_is_said():
    counts, whole = divisions(60, 8)
    assert not whole
    assert count(60, 8) > MOST > len(counts)
    assert ((counts > 0).sum(axis=1) <= 2).all()
    what = plan(60, LASIUS, basis(KNOWN), largest=8, day=160)
    assert any("at most two" in line for line in what.says)


def test_sixty_queens_in_groups_to_four_are_all_compared():
    counts, whole = divisions(60, 4)
    assert whole
    assert len(counts) == count(60, 4)
    assert (counts @ np.arange(1, 5) == 60).all()


def test_a_division_reads_as_one_would_write_it():
    assert text(np.array([1, 0, 2])) == "3 + 3 + 1"
    assert text(np.array([9, 0, 1])) == "3 + 9 x 1"


def test_efficient_rows_are_those_nobody_beats():
    values = np.array([[0.9, 1.0], [0.8, 2.0], [0.8, 1.9], [0.7, 0.5]])
    assert efficient(values).tolist() == [True, True, False, False]
    ties = np.array([[0.5, 1.0], [0.5, 1.0]])
    assert efficient(ties).tolist() == [True, True]


def test_more_foundings_teach_more_and_none_teach_nothing():
    lasting = np.random.default_rng(5).beta([6, 4], [4, 6], size=(400, 2))
    difference = lasting[:, 1] - lasting[:, 0]
    got = [narrowing(lasting, np.array([n, n]), difference) for n in (0, 1, 3, 9)]
    assert got[0] == pytest.approx(0.0)
    assert got == sorted(got)
    assert got[-1] > 0.2


def test_narrowing_is_that_of_the_beta_binomial():
    """One size, difference = its chance: the posterior is beta, its SD known in closed form."""
    from scipy.stats import beta, betabinom

    a, b, n = 4.0, 6.0, 5
    p = beta.ppf((np.arange(600) + 0.5) / 600, a, b)  # draws at even steps of the prior
    after = sum(betabinom.pmf(x, n, a, b) * beta.std(a + x, b + n - x) for x in range(n + 1))
    exact = 1 - after / beta.std(a, b)
    assert narrowing(p[:, None], np.array([n]), p) == pytest.approx(exact, abs=0.002)
    assert narrowing(p[:, None], np.array([n - 1]), p) < exact - 0.01


def test_a_difference_of_two_unrelated_chances_is_learnt_best_by_trying_both():
    lasting = np.random.default_rng(6).beta(5, 5, size=(600, 2))
    difference = lasting[:, 1] - lasting[:, 0]
    one, other, both = (
        narrowing(lasting, np.array(c), difference) for c in ((6, 0), (0, 6), (3, 3))
    )
    assert both > max(one, other) + 0.02


def test_a_plan_says_what_each_division_would_teach():
    what = plan(12, LASIUS, basis(*spread(600, 7)), largest=3, day=160)
    assert what.compared_size == 3
    assert what.table["narrowing"].between(0, 1).all()
    alone = plan(12, LASIUS, basis(*spread(600, 7)), largest=1, day=160)
    assert alone.compared_size == 0
    assert alone.table["narrowing"].isna().all()


@pytest.mark.parametrize(
    ("queens", "largest", "day", "word"),
    [
        (0, 4, 180, "at least one"),
        (-2, 4, 180, "at least one"),
        (5000, 4, 180, "at most 200"),
        (10, 40, 180, "largest group of 40"),
        (10, 0, 180, "largest group of 0"),
        (10, 4, 0, "Day 0"),
        (10, 4, 9999, "Day 9999"),
    ],
)
def test_a_question_without_an_answer_is_refused(queens, largest, day, word):
    with pytest.raises(StudyError, match=word):
        plan(queens, LASIUS, basis(KNOWN), largest=largest, day=day)


def test_a_kind_nobody_kept_is_forecast_as_new_and_it_is_said():
    stands_on = basis(KNOWN, names=("Lasius", "dull-brown"))
    assert kind_of("lasius", stands_on) == Kind("Lasius", 0)
    assert kind_of("dull-brown", stands_on).index == 1
    new = kind_of("Messor", stands_on)
    assert new.index == -1
    assert "Messor is new to these results" in new.says
    assert kind_of("new", stands_on).index == -1
    assert kind_of("Messor", prior_basis(draws=10)).says == ""  # the priors know no kind at all


@pytest.mark.parametrize(
    ("word", "says"),
    [
        ("Lasuis", "Did you mean 'Lasius'"),
        ("dull-brwn", "Did you mean 'dull-brown'"),
        ("qqqqq", "no genus known here"),
        ("Polyergus", "host colony"),
        ("Eciton", "splitting"),
    ],
)
def test_a_misspelt_kind_or_one_that_does_not_found_alone_is_told(word, says):
    with pytest.raises(StudyError, match=says):
        kind_of(word, basis(KNOWN, names=("Lasius", "dull-brown")))


def test_what_reaches_beyond_the_data_is_said():
    what = plan(6, LASIUS, basis(KNOWN), largest=5, day=300)
    text_of = " ".join(what.says)
    assert "more than 3" in text_of
    assert "to day 180" in text_of
