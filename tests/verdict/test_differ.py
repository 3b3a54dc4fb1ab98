"""Whether kinds differ, asked of draws whose truth is known."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from cohort.verdict.differ import alike, differ, level
from cohort.verdict.rules import SURE, Evidence, Verdict

Floats = np.ndarray


def posterior(seen: Floats, error: float, rng: np.random.Generator, draws: int = 1500) -> Floats:
    """Draws of effects of kinds: each seen with an error, drawn together by a common normal.

    The spread between kinds has a half-normal prior of scale .3 on a grid, the mean a flat one.
    """
    grid = np.linspace(0.002, 1.2, 300)
    log = stats.halfnorm.logpdf(grid, scale=0.3)
    total = grid[:, None] ** 2 + error**2 + 0 * seen
    centre = (seen / total).sum(1) / (1 / total).sum(1)
    log += stats.norm.logpdf(seen, centre[:, None], np.sqrt(total)).sum(1)
    log -= 0.5 * np.log((1 / total).sum(1))
    at = rng.choice(len(grid), draws, p=np.exp(log - log.max()) / np.exp(log - log.max()).sum())
    tau, v = grid[at], total[at]
    mu = centre[at] + rng.normal(size=draws) / np.sqrt((1 / v).sum(1))
    weight = 1 / error**2 + 1 / tau[:, None] ** 2
    mean = (seen / error**2 + mu[:, None] / tau[:, None] ** 2) / weight
    return mean + rng.normal(size=(draws, len(seen))) / np.sqrt(weight)


def share(truth: Floats, error: float, studies: int = 200) -> float:
    """Share of simulated studies whose draws leave no difference out at the level of the rule."""
    rng = np.random.default_rng(17)
    hits = [
        level(posterior(truth + error * rng.normal(size=len(truth)), error, rng)) >= SURE
        for _ in range(studies)
    ]
    return float(np.mean(hits))


@pytest.mark.parametrize("kinds", [2, 4, 8])
def test_kinds_that_are_alike_are_seldom_said_to_differ(kinds: int) -> None:
    assert share(np.zeros(kinds), 0.15) <= 0.05


@pytest.mark.parametrize("kinds", [2, 4, 8])
def test_kinds_that_differ_greatly_are_said_to(kinds: int) -> None:
    truth = 0.35 * np.where(np.arange(kinds) % 2, 1.0, -1.0)
    assert share(truth, 0.1) >= 0.9


def test_the_spread_of_the_draws_would_call_every_study_different() -> None:
    # the rule that suggests itself: the lower end of the spread between kinds is above 0
    rng = np.random.default_rng(5)
    drawn = posterior(0.15 * rng.normal(size=4), 0.15, rng)
    assert np.quantile(drawn.std(axis=1, ddof=1), 0.05) > 0
    assert level(drawn) < SURE


def test_the_level_is_that_of_the_chi_square() -> None:
    # of normal draws with mean m and SD s each, independent, squared distances are chi-square on
    # kinds - 1 degrees of freedom: for m = (-.3, 0, .3), s = .15 that of "all alike" is
    # .18 / .0225 = 8 on 2, level 1 - exp(-4) = .9817
    rng = np.random.default_rng(2)
    drawn = np.array([-0.3, 0.0, 0.3]) + 0.15 * rng.normal(size=(40_000, 3))
    assert level(drawn) == pytest.approx(1 - math.exp(-4), abs=0.004)
    # what all kinds share moves it by nothing
    assert level(drawn + 0.7 * rng.normal(size=(40_000, 1))) == pytest.approx(level(drawn))


def test_weights_count_draws_as_often_as_they_say() -> None:
    rng = np.random.default_rng(8)
    few = rng.normal([0.0, 0.08, 0.04], [0.02, 0.1, 0.1], (400, 3))
    often = np.where(few[:, 1] > 0.1, 9, 1)  # they draw the mean away and the spread together
    repeated = level(np.repeat(few, often, axis=0))
    assert level(few, often / often.sum()) == pytest.approx(repeated, abs=0.002)
    assert abs(level(few) - repeated) > 0.1


def test_without_sheets_all_alike_is_in_the_middle() -> None:
    rng = np.random.default_rng(9)
    drawn = rng.normal(size=(4000, 5)) * np.abs(rng.normal(size=(4000, 1)))
    assert level(drawn) < 0.05


def test_differences_must_be_large_enough_to_matter() -> None:
    rng = np.random.default_rng(4)
    small = np.array([-0.02, 0.0, 0.02]) + 0.001 * rng.normal(size=(2000, 3))
    assert level(small) == 1.0
    assert alike(small) == 1.0
    sure = Evidence(chance=1.0, prior_chance=0.02, equal=0.0, alike=1.0, half=1.0, double=1.0)
    assert differ(sure) == Verdict("clearly", "", "none")
    assert differ(replace(sure, equal=alike(small))) == Verdict("open", "", "unsure")
    assert differ(replace(sure, equal=0.06)) == Verdict("open", "", "unsure")


@pytest.mark.parametrize(
    ("changed", "expected"),
    [
        ({"chance": 0.94}, ("open", "", "unsure")),
        ({"chance": 0.02}, ("open", "", "unsure")),
        ({"half": 0.9}, ("open", "", "prior-strength")),
        ({"alike": 0.9}, ("open", "", "readings-differ")),
        ({"flags": ("x",)}, ("open", "", "flagged-check")),
        ({"by_lot": 0.2}, ("open", "", "not-by-lot")),
        ({"kind": True, "chance": math.nan}, ("none", "", "few-own")),
    ],
)
def test_only_clear_differences_are_said(changed: dict, expected: tuple[str, str, str]) -> None:
    sure = Evidence(chance=1.0, prior_chance=0.02, equal=0.0, alike=1.0, half=1.0, double=1.0)
    assert differ(replace(sure, **changed)) == Verdict(*expected)
