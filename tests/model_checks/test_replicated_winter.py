"""Replicated studies through winter rest, against the event simulator at the same numbers."""

import math

import numpy as np
import pytest
from by_rows import Rates
from scenes import history_of, lived, par_of, shared_of

from cohort.likelihood import layout as at
from cohort.model.replicated import calendar
from cohort.predict.posterior_predictive import posterior_predictive

DAYS = (30.0, 49.0, 90.0, 160.0, 175.0, 210.0)
WINTERS = ((50.0, 150.0),)
RATES = Rates(
    level1=0.008, ratio1=1.5, level2=0.006, ratio2=3.0, theta=0.25, log_day=math.log(55.0),
    tau=0.3, phi=0.85, winter=0.7, winter_company=2.2,
)  # fmt: skip


@pytest.mark.parametrize("winters", [WINTERS, ((20.0, 60.0),)])
def test_counts_and_first_workers_are_those_of_the_simulator(winters):
    k, draws = 3, 20_000
    # one founding that kept all its queens: its own looks, and the winter they went through
    looks = tuple((day, k, 0) for day in DAYS)
    plan, _ = calendar(history_of([(k, looks)], winters=winters))
    par = np.repeat(par_of(RATES, 1)[None], draws, axis=0)
    shared = np.repeat(shared_of(RATES)[None], draws, axis=0)
    plan = type(plan)(**{**plan.__dict__, "sought": np.full(1, math.inf)})
    at_risk, alive, first = posterior_predictive(par, shared, plan, np.random.default_rng(2))
    known = lived(draws, k, RATES, DAYS, 6, winters=winters)
    for j, day in enumerate(DAYS):
        theirs = np.array([dict((look[0], look[1]) for look in looks).get(day, 0)
                           for _, looks in known])  # fmt: skip
        error = math.sqrt(alive[:, j].var() / draws + theirs.var() / draws)
        assert abs(alive[:, j].mean() - theirs.mean()) < 4.5 * error, day
        shown = np.array([any(look[0] == day and look[2] for look in looks) for _, looks in known])
        seen = (first <= day)[:, 0] & (alive[:, j] > 0)
        spread = math.sqrt(2 * 0.25 / draws)
        assert abs(seen.mean() - (shown & (theirs > 0)).mean()) < 4.5 * spread, day
    assert (at_risk[:, 0] == k).all()
    mild = shared.copy()
    mild[:, at.WINTER] = -40.0
    _, other, _ = posterior_predictive(par, mild, plan, np.random.default_rng(2))
    assert other[:, -1].mean() > alive[:, -1].mean() + 0.05


def test_one_lost_before_winter_would_have_had_the_usual_one():
    sets = [(2, ((30.0, 2, 0), (170.0, 2, 0))), (2, ((20.0, 0, 0),))]
    plan, _ = calendar(history_of(sets, winters=WINTERS))
    assert plan.winter_start.tolist() == [0, 1, 2]
    assert plan.winter_in.tolist() == [50.0, 50.0]
    assert plan.winter_out.tolist() == [150.0, 150.0]
