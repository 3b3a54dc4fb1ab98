"""Foundings followed from later than their start: the likelihood allows for who was left."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq, minimize

from cohort.history import history
from cohort.likelihood import layout as at
from cohort.likelihood.exposure import packed
from cohort.likelihood.study import marginal_loglik
from cohort.simulate.events import run
from cohort.simulate.truth import GenusTruth

pytestmark = pytest.mark.slow


def most_likely(tables, start, build):
    """Parameters of the highest marginal likelihood; ``build`` makes kernel arrays of them."""

    def minus(x):
        par, shared = build(x)
        return -marginal_loglik(par[None], shared[None], *tables).sum()

    return minimize(minus, start, method="Nelder-Mead", options={"xatol": 1e-3, "fatol": 1e-3}).x


def alive_on(day, log_hazard, sigma):
    z = np.linspace(-8, 8, 2001)
    weight = np.exp(-0.5 * z**2)
    return float((weight * np.exp(-day * np.exp(log_hazard + sigma * z))).sum() / weight.sum())


def only_hazard(foundings):
    """Kernel arrays of a log hazard and the log of sigma; nobody gets workers."""

    def build(x):
        par = np.zeros((foundings, at.FOUNDING_WIDTH))
        par[:, at.HAZARD1] = par[:, at.HAZARD2] = x[0]
        par[:, at.LOG_DAY], par[:, at.FERTILE], par[:, at.LAST_FIGHT] = math.log(1e5), 0.5, 0.1
        shared = np.zeros(at.SHARED_WIDTH)
        shared[at.WITHIN_DAYS], shared[at.SIGMA], shared[at.LOADING] = 0.1, math.exp(x[1]), 1.0
        return par, shared

    return build


def test_hardy_queens_that_enter_late():
    # 600 queens, half of them followed from day 64 only; frailty SD 1; S(160) = .266. Held to .02
    # on the mean of eight studies; a clock started late without the selection claims .05 more.
    level = brentq(lambda x: alive_on(160, x, 1.0) - 0.266, -7, -3)
    own = GenusTruth(log_hazard=level, frailty=1.0, mated=0.0)
    right, wrong = [], []
    for seed in range(8):
        rng = np.random.default_rng(100 + seed)
        paths = run(1200, 1, own, rng, 160.0)
        late = rng.random(1200) < 0.5
        known = ~late | (paths.deaths[:, 0] > 64)
        lived = paths.deaths[known, 0][:600], late[known][:600]
        found = []
        for naive in (False, True):
            exposure = packed(late_history(*lived, naive=naive))
            tables = exposure.records, exposure.rows, exposure.nodes
            build = only_hazard(len(exposure.foundings))
            found.append(_named(most_likely(tables, [-5.0, -0.5], build)))
        right.append(alive_on(160, *found[0]))
        wrong.append(alive_on(160, *found[1]))
        # and no queen's chance is another than by plain survival curves
        best = -plain_loglik(*lived, *found[0])
        assert best == pytest.approx(_kernel_loglik(*lived, *found[0]), abs=0.02)
    print("S(160) .266; found", np.mean(right), np.std(right), "naive", np.mean(wrong))
    assert abs(np.mean(right) - 0.266) < 0.02
    assert np.mean(wrong) - 0.266 > 0.03


def plain_loglik(deaths, late, level, sigma):
    """Minus the log-likelihood by survival curves alone, looks every 8 days."""
    z = np.linspace(-8, 8, 161)
    weight = np.exp(-0.5 * z**2)
    weight /= weight.sum()

    def alive(days):
        return (weight * np.exp(-days[:, None] * np.exp(level + sigma * z))).sum(axis=1)

    by = np.ceil(deaths / 8) * 8
    dead = deaths <= 160
    lived = np.full(len(deaths), 160.0)
    by = np.where(dead, by, 8.0)
    seen = np.where(dead, alive(by - 8) - alive(by), alive(lived))
    entered = np.where(late, alive(np.full(len(deaths), 64.0)), 1.0)
    return -(np.log(seen) - np.log(entered)).sum()


def _kernel_loglik(deaths, late, level, sigma):
    exposure = packed(late_history(deaths, late, naive=False))
    par, shared = only_hazard(len(exposure.foundings))([level, math.log(sigma)])
    tables = exposure.records, exposure.rows, exposure.nodes
    return marginal_loglik(par[None], shared[None], *tables).sum()


def _named(x):
    return x[0], math.exp(x[1])


def late_history(deaths, late, *, naive):
    """History of single queens looked at every 8 days, ``late`` ones from day 64 on.

    ``naive`` writes the late ones as if founded on day 64.
    """
    from scenes import line_of
    from small_study import date, small_study

    lines, more = {}, {}
    for i, (death, from_64) in enumerate(zip(deaths, late, strict=True)):
        begin = 64 if from_64 else 0
        shift = begin if naive else 0
        looks = []
        for day in range(begin + (8 if naive or not from_64 else 0), 161, 8):
            looks.append((float(day - shift), int(death > day), 0))
            if death <= day:
                break
        lines[f"F{i}"] = line_of(1, looks)
        if from_64 and not naive:
            more[f"F{i}"] = {"followed_from": date(64)}
    return history(small_study(lines, more=more))
