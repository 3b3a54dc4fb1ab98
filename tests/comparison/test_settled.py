"""When a first run falls short: more of the same, or smaller steps; never what was not settled."""

from __future__ import annotations

import dataclasses
import math
from types import SimpleNamespace

import numpy as np
import pytest
import xarray as xr

import cohort.outcomes
from cohort.base import background
from cohort.comparison.settled import MOST_RUNS, RERUN, settled
from cohort.model import gate
from cohort.model.gate import Diagnosis
from cohort.model.sample import ACCEPT_AGAIN, Fit, joined

pytestmark = pytest.mark.quick

GOOD = Diagnosis(True, 1.002, 1.004, 900.0, 800.0, "mated", 0, 0.9, 1, ())
SHORT = dataclasses.replace(GOOD, settled=False, rhat=1.013, ess_bulk=210.0, reasons=("few",))
ASTRAY = dataclasses.replace(SHORT, divergences=2)
STUCK = dataclasses.replace(SHORT, ebfmi=0.2)
APART = dataclasses.replace(SHORT, rhat=1.6)
APART_IN_OUTCOMES = dataclasses.replace(SHORT, rhat_outcomes=1.6)
NO_NUMBER = dataclasses.replace(SHORT, rhat=float("nan"))
NO_NUMBER_IN_OUTCOMES = dataclasses.replace(SHORT, rhat_outcomes=float("nan"))
FEW = SimpleNamespace(foundings=("K1-01", "K1-02"))


def fitted(seed=7, draws=50, accept=0.9, chains=4):
    rng = np.random.default_rng(seed)
    shape = {"chain": range(chains), "draw": range(draws)}
    posterior = xr.Dataset(
        {"mated": (("chain", "draw"), rng.normal(size=(chains, draws))),
         "rivalry": (("chain", "draw", "genus"), rng.normal(size=(chains, draws, 2)))},
        coords={**shape, "genus": ["Lasius", "Messor"]},
    )  # fmt: skip
    stats = xr.Dataset({"diverging": (("chain", "draw"), np.zeros((chains, draws), bool))}, shape)
    return Fit(posterior, stats, FEW, None, None, seed, accept)


class Samples:
    """Who samples again: remembers what was asked for."""

    def __init__(self):
        self.sampler, self.asked = object(), []

    def sampled(self, *, seed, draws, accept):
        self.asked.append((seed, draws, accept))
        return fitted(seed, draws, accept)


@pytest.fixture
def run(monkeypatch):
    """`settled` with diagnoses in turn; what it said, asked for, and handed to the outcomes."""

    def go(*diagnoses, sampler=True):
        turns, seen, said, who = iter(diagnoses), [], [], Samples()
        if not sampler:
            who.sampler = None
        monkeypatch.setattr(gate, "judge", lambda *a, **how: dataclasses.replace(
            next(turns), runs=how["runs"]))  # fmt: skip
        monkeypatch.setattr(
            cohort.outcomes, "posterior_draws",
            lambda posterior, *a, draws, **how: seen.append((posterior.sizes["chain"], draws)),
        )  # fmt: skip
        monkeypatch.setattr(cohort.outcomes, "outcomes", lambda *a: None)
        monkeypatch.setattr(cohort.outcomes, "printed", lambda *a: {})
        monkeypatch.setattr(background, "start", lambda *a: None)
        kept, _, diagnosis, _ = settled(
            fitted(), who, SimpleNamespace(horizon=180), (1, 3), 3, 0.9, said.append, 50
        )
        return SimpleNamespace(
            kept=kept, told=diagnosis, seen=seen, asked=who.asked,
            said=[line for line in said if line.startswith("Not settled")],
        )  # fmt: skip

    return go


def test_a_run_that_settles_is_kept_as_it_is(run):
    done = run(GOOD)
    assert (done.asked, done.said, done.told.runs) == ([], [], 1)


def test_too_few_draws_are_made_more_in_the_same_steps_and_the_first_are_kept(run):
    done = run(SHORT, GOOD)
    assert done.asked == [(8, 50, 0.9)]
    assert done.said == ["Not settled yet: drawing as much again"]
    assert (done.told.runs, done.kept.posterior.sizes["chain"]) == (2, 8)
    # outcomes go by as many draws of each chain as before
    (chains, draws), (more, all_draws) = done.seen
    assert (chains, more) == (4, 8)
    assert all_draws == 2 * draws


@pytest.mark.parametrize(
    "why",
    [ASTRAY, STUCK, APART, APART_IN_OUTCOMES, NO_NUMBER, NO_NUMBER_IN_OUTCOMES],
    ids=["astray", "stuck", "apart", "outcomes apart", "no number", "outcomes no number"],
)
def test_what_went_wrong_begins_again_in_smaller_steps(run, why):
    done = run(why, GOOD)
    assert done.asked == [(8, RERUN * 50, ACCEPT_AGAIN)]
    assert done.said == ["Not settled yet: fitting once more, in smaller steps"]
    assert done.kept.posterior.sizes["chain"] == 4


def test_more_draws_that_do_not_do_begin_again_in_smaller_steps_and_that_is_the_end(run):
    done = run(SHORT, SHORT, SHORT)
    assert done.asked == [(8, 50, 0.9), (9, RERUN * 50, ACCEPT_AGAIN)]
    assert (done.told.settled, done.told.runs) == (False, MOST_RUNS)
    assert run(ASTRAY, SHORT).told.settled is False


def test_draws_of_ones_own_are_not_drawn_again(run):
    assert run(SHORT, sampler=False).asked == []


def test_joined_chains_are_those_of_both_in_order():
    one, other = fitted(1), fitted(2)
    both = joined(one, other)
    assert list(both.posterior["chain"].values) == list(range(8))
    for name in ("mated", "rivalry"):
        assert np.array_equal(both.posterior[name][:4].values, one.posterior[name].values)
        assert np.array_equal(both.posterior[name][4:].values, other.posterior[name].values)
    assert both.posterior["rivalry"].dims == ("chain", "draw", "genus")
    assert both.stats.sizes["chain"] == 8
    assert both.moved is None


def test_a_short_run_is_told_from_one_that_went_wrong():
    assert SHORT.short
    assert dataclasses.replace(SHORT, ebfmi=math.nan).short  # nobody kept a record of the energy
    others = GOOD, ASTRAY, STUCK, APART, APART_IN_OUTCOMES, NO_NUMBER, NO_NUMBER_IN_OUTCOMES
    for other in others:
        assert not other.short


def test_more_chains_of_one_place_settle_and_of_two_places_do_not():
    """By the gate itself: joining must not hide that a second run went somewhere else."""
    alike = joined(fitted(1, 400), fitted(2, 400))
    far = dataclasses.replace(fitted(2, 400), posterior=fitted(2, 400).posterior + 3.0)
    stats = alike.stats.assign(energy=(("chain", "draw"), np.random.default_rng(1).normal(
        size=(8, 400))))  # fmt: skip
    assert gate.judge(alike.posterior, stats, {}).settled
    assert not gate.judge(joined(fitted(1, 400), far).posterior, stats, {}).settled
