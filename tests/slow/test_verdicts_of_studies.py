"""Verdicts of fitted studies: do kinds differ; weights against fits with scaled priors."""

from __future__ import annotations

import math

import pandas as pd
import pytest

from cohort.history import history
from cohort.model.asked import fit
from cohort.model.reweighted import POWERS, weights
from cohort.outcomes import outcomes, posterior_draws
from cohort.outcomes.parameters import thin
from cohort.outcomes.quantities import Key
from cohort.simulate.design import Design
from cohort.simulate.season import simulate_study
from cohort.simulate.truth import GenusTruth, Truth
from cohort.study import read_study
from cohort.verdict.differ import alike, level
from cohort.verdict.rules import SURE
from cohort.verdict.strength import chances, refitted

pytestmark = pytest.mark.slow

NAMES = ("Lasius", "Messor", "Formica", "Camponotus")
SHARED = {"within_days": 0.15, "frailty": 0.5, "log_median_day": math.log(45.0)}
SAME = dict.fromkeys(NAMES, GenusTruth(log_hazard=math.log(0.006), rivalry=1.0, **SHARED))
KILLS = GenusTruth(
    log_hazard=math.log(0.004), together=1.6, rivalry=2.5, last_fight=0.5, mated=0.95, **SHARED
)
HELPS = GenusTruth(
    log_hazard=math.log(0.02), together=-1.8, rivalry=-0.5, last_fight=0.05, mated=0.7, **SHARED
)
FAR = dict(zip(NAMES, (KILLS, HELPS, KILLS, HELPS), strict=True))


def fitted(folder, truth, seed):
    design = Design(foundings=96, sizes=(1, 3), look_every=7, horizon=160)
    simulate_study(design, Truth(truth), seed).write(folder)
    found = fit(history(read_study(folder)), seed=seed)
    drawn = posterior_draws(found.posterior, found.design, found.priors, seed=seed)
    return found, outcomes(drawn, (1, 3), 160)


def of_kinds(post):
    return post.values[Key("colony", "same_queens_any", 3, 160, "seen")][:, : len(NAMES)]


@pytest.mark.parametrize("seed", range(5))
def test_kinds_that_are_alike_are_not_said_to_differ(seed, tmp_path):
    _, post = fitted(tmp_path / "study", SAME, seed)
    assert level(of_kinds(post)) < SURE


@pytest.mark.parametrize("seed", range(3))
def test_kinds_that_differ_greatly_are_said_to(seed, tmp_path):
    _, post = fitted(tmp_path / "study", FAR, seed)
    assert level(of_kinds(post)) >= SURE
    assert alike(of_kinds(post)) <= 1 - SURE


def test_weighted_draws_agree_with_fits_under_scaled_priors(tmp_path):
    found, post = fitted(tmp_path / "study", SAME, 11)
    small, plain = thin(found.posterior), chances(post)
    watched = [
        place
        for place in plain.index
        if place[0] in ("same_queens_any", "share_alive", "chance_by_day") and place[1] != "new"
    ]
    for power in POWERS.values():
        scaled = weights(small, found.design, found.priors, power)
        assert scaled.reliable
        again = refitted(found, found.priors.at_strength(power), (1, 3), 160)
        assert again is not None
        apart = (chances(post, scaled.each) - chances(again))[watched]
        # four standard errors of a chance near one half from 200 draws, the least seen, are .14
        assert apart.abs().max() < 0.12
        assert abs(apart.mean()) < 0.03
        moved = (plain - chances(again))[watched]
        assert isinstance(moved, pd.Series)
        assert moved.abs().max() > 0.05  # or the test would say nothing
