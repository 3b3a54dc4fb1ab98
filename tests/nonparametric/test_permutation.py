"""The same queens shared out again by lot: by hand, by full enumeration, and wrong variants.

A queen's fate is 1 (alive on the day in a container with workers) or 0. She takes it along.
"""

import itertools

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from small_study import small_study

from cohort.history import history
from cohort.nonparametric.permutation import GAPS, LEAST, cells_of, fates_of, gaps_of, permutation


def gaps(fate, sizes, genus=None):
    """Both gaps of containers filled with these fates in order."""
    cells = cells_of(np.array(genus or ["g"] * len(sizes)), np.array(sizes))
    first = np.cumsum(sizes) - sizes
    return gaps_of((np.add.reduceat(np.asarray(fate, float), first) > 0).astype(float), cells)


def every(fate, sizes):
    """The gaps of every order in which the queens can be shared out."""
    return np.array([gaps(order, sizes) for order in itertools.permutations(fate)])


def test_two_together_and_two_alone_by_hand():
    # Queens A 1, B 0, C 1, D 0; two share a container. Which two, six ways, equally likely:
    # AC: the pair has a colony, of the two alone none has: +1; colonies 1 - 2 x 0 = 1
    # BD: the pair none, the two alone both: -1; colonies 0 - 2 x 1 = -2
    # AB, AD, CB, CD: the pair one, the two alone one: 0; colonies 1 - 2 x 1/2 = 0
    sizes = np.array([2, 1, 1])
    assert gaps([1, 1, 0, 0], sizes) == pytest.approx([1, 1])
    assert gaps([0, 0, 1, 1], sizes) == pytest.approx([-1, -2])
    assert gaps([1, 0, 1, 0], sizes) == pytest.approx([0, 0])
    assert every([1, 0, 1, 0], sizes).mean(axis=0) == pytest.approx([0, -1 / 6])


def test_wrong_ways_of_the_same_example_find_a_gap_that_nobody_earned():
    # The share of singles put into 1 - (1 - p)^2: 1, -1 and four times 1 - .75
    assert np.mean([1, -1, *[1 - 0.75] * 4]) == pytest.approx(1 / 6)
    # Ways shuffled among containers (colonies 1, 1, 0; one of the three is "the pair"): company
    # made no difference to any container, and the pair still comes out behind.
    cells = cells_of(np.array(["g"] * 3), np.array([2, 1, 1]))
    shuffled = [gaps_of(np.array(c, float), cells) for c in ((1, 1, 0), (1, 0, 1), (0, 1, 1))]
    assert np.mean(shuffled, axis=0)[0] == pytest.approx(-1 / 3)


@given(st.lists(st.integers(0, 1), min_size=4, max_size=6), st.integers(2, 3))
@settings(max_examples=25, deadline=None)
def test_in_one_block_the_mean_gap_is_nothing_whatever_the_fates(fate, k):
    if len(fate) < 2 * k:
        return
    sizes = np.array([k, *[1] * (len(fate) - k)])
    mean = every(fate, sizes).mean(axis=0)
    assert mean[0] == pytest.approx(0, abs=1e-12)
    share = np.mean(fate)
    together = 1 - np.mean([not any(c) for c in itertools.combinations(fate, k)])
    assert mean[1] == pytest.approx(together - k * share)


def pairs(fates):
    """Blocks of a pair and a single: fates of the two together, then of the one alone."""
    lines, more = {}, {}
    for i, (a, b, c) in enumerate(fates):
        both = {2: "180 2/9", 1: "180 1/9", 0: "60 0/0"}[a + b]
        lines[f"P{i}"] = f"2 | 40 2/0, 50 2/{int(a + b > 0)}, {both}"
        lines[f"S{i}"] = f"1 | 40 1/0, 50 1/{c}, " + ("180 1/9" if c else "60 0/0")
        for name in (f"P{i}", f"S{i}"):
            more[name] = {"assigned": "random", "block": f"B{i}"}
    return lines, more


FATES = [(1, 0, 1), (1, 1, 0), (1, 0, 0), (0, 0, 1), (1, 1, 1), (1, 0, 1)]


def test_the_chance_is_that_of_full_enumeration():
    lines, more = pairs(FATES)
    found = permutation(history(small_study(lines, more=more)), seed=3)
    # In each block any of the three queens may be the one alone: 3^6 equally likely ways.
    sizes = np.tile([2, 1], 6)
    orders = [[np.r_[np.delete(f, k), f[k]] for k in range(3)] for f in FATES]
    drawn = np.array([gaps(np.concatenate(one), sizes) for one in itertools.product(*orders)])
    seen, mean = gaps(np.concatenate(FATES), sizes), drawn.mean(axis=0)
    for i, gap in enumerate(GAPS):
        sides = [np.mean(s * drawn[:, i] >= s * seen[i] - 1e-12) for s in (1, -1)]
        exact = min(1, 2 * min(sides))
        assert found[gap] == pytest.approx(seen[i])
        assert found[f"{gap}_expected"] == pytest.approx(mean[i], abs=0.02)
        assert found[f"{gap}_chance"] == pytest.approx(exact, abs=0.03)
    assert (found["single"], found["multi"], found["foundings"]) == (6, 6, 12)
    assert found["done"]
    # blocks dissolved: queens change places that never could have
    one = {name: own | {"block": "B"} for name, own in more.items()}
    whole = permutation(history(small_study(lines, more=one)), seed=3)
    assert whole["any_expected"] == pytest.approx(0, abs=0.02)


def test_the_sign_is_that_of_the_headline():
    # Alone nobody comes through, together all do: together is better.
    for fate, sign in ((((1, 1, 0),) * 8, 1), (((0, 0, 1),) * 8, -1)):
        lines, more = pairs(fate)
        found = permutation(history(small_study(lines, more=more)), seed=1)
        assert np.sign(found["any"]) == sign
        assert found["any_chance"] < 0.05


def test_where_company_made_no_difference_a_small_chance_is_rare():
    rng, small = np.random.default_rng(5), 0
    for _ in range(60):
        fate = rng.random((8, 3)) < 0.6
        lines, more = pairs(fate.astype(int).tolist())
        past = history(small_study(lines, more=more))
        small += permutation(past, seed=1, shuffles=400)["any_chance"] <= 0.1
    assert small <= 12  # binomial(60, .1): more than 12 with chance .005


def test_a_group_needs_as_many_singles_of_its_kind():
    cells = cells_of(np.array(["a", "a", "b", "b", "b"]), np.array([2, 1, 2, 1, 1]))
    assert cells.behind.tolist() == [False, False, True, True, True]


def test_fates_are_laid_container_by_container():
    frame = pd.DataFrame(
        {"size": [3, 1, 2], "alive": [2, 1, 1], "colony": [True, True, False]}, index=[4, 7, 9]
    )
    assert fates_of(frame).tolist() == [1, 1, 0, 1, 0, 0]


def test_too_few_by_lot_is_said():
    lines, more = pairs(FATES[: LEAST - 1])
    found = permutation(history(small_study(lines, more=more)), seed=1)
    assert (found["done"], found["why"], found["single"]) == (False, "few", LEAST - 1)
    assert found["any"] is None
    chosen = permutation(history(small_study(pairs(FATES)[0])), seed=1)
    assert (chosen["done"], chosen["foundings"]) == (False, 0)
    assert set(chosen) == set(found)


def test_the_same_seed_gives_the_same_chance():
    lines, more = pairs(FATES)
    past = history(small_study(lines, more=more))
    assert permutation(past, seed=4, shuffles=700) == permutation(past, seed=4, shuffles=700)
