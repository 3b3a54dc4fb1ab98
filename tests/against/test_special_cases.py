"""Special cases of the founding model against msm, lme4 and survreg of R, on committed looks.

Each case leaves only a part of the model alive, which another program fits too: groups of two as a
Markov chain seen at looks (msm, Jackson 2011, doi 10.18637/jss.v038.i08), grouped hazards with a
normal random effect (lme4's glmer, complementary log-log), log-normal days in brackets (survreg),
the same with a share that never comes (maximised in R). Their numbers, with versions and date, are
in `special_cases/fits.csv`; `fits.R` makes them from `special_cases/looks.csv`. Ours are maxima
of the likelihood that is sampled, and outcomes by the recursion behind the page.
"""

import io
import math
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import minimize
from scipy.special import expit
from small_study import small_study

from cohort.history import history
from cohort.likelihood import layout as at
from cohort.likelihood.exposure import packed
from cohort.likelihood.study import marginal_loglik, study_loglik
from cohort.outcomes.known import known_draws
from cohort.outcomes.quantities import outcomes
from cohort.simulate.truth import GenusTruth, Truth

HERE = Path(__file__).parent / "special_cases"
NEVER = -40.0
GRID = 2e-3
"""Allowed between the recursion on its two-day grid and an exact chance."""


def r_numbers(text):
    frame = pd.read_csv(io.StringIO(text), comment="#")
    return frame.set_index(["case", "name"])["value"]


@pytest.fixture(scope="module")
def told():
    return r_numbers((HERE / "fits.csv").read_text())


def exposure_of(case):
    looks = pd.read_csv(HERE / "looks.csv")
    looks = looks[looks["case"] == case]
    lines = {
        name: f"{own['size'].iloc[0]} | "
        + ", ".join(f"{r.day} {r.queens}/{r.workers}" for r in own.itertuples())
        for name, own in looks.groupby("founding")
    }
    return packed(history(small_study(lines)))


def arrays(exposure):
    par = np.zeros((len(exposure.foundings), at.FOUNDING_WIDTH))
    par[:, at.HAZARD1] = par[:, at.HAZARD2] = NEVER
    shared = np.zeros(at.SHARED_WIDTH)
    shared[at.WITHIN_DAYS] = shared[at.LOADING] = 1.0
    return par, shared, (exposure.records, exposure.rows, exposure.nodes)


def maximum(exposure, columns, start, **fixed):
    """Maximum over columns of every founding's parameters, the others held; with its value."""
    par, shared, tables = arrays(exposure)
    for column, value in fixed.items():
        par[:, getattr(at, column)] = value

    def minus(v):
        par[:, columns] = v
        value, gradient, _ = study_loglik(par, shared, *tables)
        return -value, -gradient[:, columns].sum(axis=0)

    found = minimize(minus, start, jac=True, method="BFGS", options={"gtol": 1e-8})
    return -found.fun, found.x


def pairs_only(exposure):
    """1 where a founding began with two."""
    return (exposure.foundings["size"] == 2).to_numpy(float)


@pytest.fixture(scope="module")
def company():
    """Hazards before workers: value, log hazard of a lone queen, log ratio in company."""
    exposure = exposure_of("company")
    par, shared, tables = arrays(exposure)
    pairs = pairs_only(exposure)

    def minus(v):
        par[:, at.HAZARD1], par[:, at.TOGETHER] = v[0], v[1] * pairs
        value, gradient, _ = study_loglik(par, shared, *tables)
        return -value, -np.array([gradient[:, at.HAZARD1].sum(), gradient[:, at.TOGETHER] @ pairs])

    found = minimize(minus, [-4.0, 0.0], jac=True, method="BFGS", options={"gtol": 1e-8})
    return -found.fun, *found.x


def test_pairs_before_workers_are_the_markov_chain_of_msm(company, told):
    value, lone, ratio = company
    assert value == pytest.approx(told["company", "loglik"], rel=1e-8)
    assert math.exp(lone) == pytest.approx(told["company", "one_to_none"], rel=1e-4)
    assert 2 * math.exp(lone + ratio) == pytest.approx(told["company", "two_to_one"], rel=1e-4)
    # A queen left alone who keeps the hazard of company would be another chain.
    assert told["company", "two_to_one"] > 2.5 * told["company", "one_to_none"]


def recursion(own, sizes, horizon=120):
    """Outcomes of the recursion at known parameters, by quantity, size, day and reading."""
    post = outcomes(known_draws([Truth({"Lasius": own})]), sizes, horizon)
    return {(k.quantity, k.size, k.day, k.reading): v[0, 0] for k, v in post.values.items()}


def test_the_recursion_has_the_transition_matrix_of_msm_before_workers(company, told):
    _, lone, ratio = company
    own = GenusTruth(log_hazard=lone, together=ratio, mated=0.0, frailty=0.0)
    alive = recursion(own, (1, 2))["share_alive", 2, 60, ""]
    assert alive == pytest.approx(told["company", "alive_60"], abs=GRID)
    forgotten = recursion(GenusTruth(log_hazard=lone, mated=0.0, frailty=0.0), (1, 2))
    assert abs(forgotten["share_alive", 2, 60, ""] - alive) > 0.05


@pytest.fixture(scope="module")
def rivalry():
    """Hazards with workers, who come on the first day: value, log hazard, log ratio, share."""
    exposure = exposure_of("rivalry")
    par, shared, tables = arrays(exposure)
    par[:, at.LOG_DAY], par[:, at.FERTILE] = math.log(0.5), 1.0
    shared[at.WITHIN_DAYS] = 0.05
    columns = [at.HAZARD2, at.RIVALRY, at.LAST_FIGHT]

    def minus(v):
        par[:, at.HAZARD2], par[:, at.RIVALRY] = v[0], v[1]
        par[:, at.LAST_FIGHT] = share = expit(v[2])
        value, gradient, _ = study_loglik(par, shared, *tables)
        slopes = gradient[:, columns].sum(axis=0) * [1, 1, share * (1 - share)]
        return -value, -slopes

    found = minimize(minus, [-4.0, 0.0, -1.0], jac=True, method="BFGS", options={"gtol": 1e-8})
    lone, ratio, share = found.x
    return -found.fun, lone, ratio, expit(share)


def test_pairs_with_workers_are_the_markov_chain_of_msm(rivalry, told):
    value, lone, ratio, share = rivalry
    assert value == pytest.approx(told["rivalry", "loglik"], rel=1e-8)
    pair = 2 * math.exp(lone + ratio)
    assert math.exp(lone) == pytest.approx(told["rivalry", "one_to_none"], rel=1e-4)
    assert pair * (1 - share) == pytest.approx(told["rivalry", "two_to_one"], rel=1e-4)
    assert pair * share == pytest.approx(told["rivalry", "two_to_none"], rel=1e-4)


def test_the_recursion_has_the_transition_matrix_of_msm_with_workers(rivalry, told):
    _, lone, ratio, share = rivalry
    own = GenusTruth(
        log_hazard=NEVER, log_hazard_workers=lone, rivalry=ratio, last_fight=share, mated=1.0,
        log_median_day=math.log(20.0), multi_days=0.0, within_days=0.05, frailty=0.0,
    )  # fmt: skip
    found = recursion(own, (1, 2))
    for day in (30, 60, 90):
        for state in ("none", "one", "several"):
            ours = found[f"chance_{state}_left", 2, day, ""]
            assert ours == pytest.approx(told["rivalry", f"{state}_{day}"], abs=GRID)


def test_brackets_of_those_seen_are_survregs(told):
    exposure = exposure_of("cure")
    seen = np.isfinite(exposure.foundings["first_by"].to_numpy())
    assert 0.15 < 1 - seen.mean() < 0.5
    par, shared, tables = arrays(exposure)
    par[:, at.FERTILE] = 1.0
    par[:, at.LOG_DAY] = told["seen", "log_day"]
    shared[at.WITHIN_DAYS] = told["seen", "within_days"]
    values = marginal_loglik(par[None], shared[None], *tables)[0]
    assert values[seen].sum() == pytest.approx(told["seen", "loglik"], rel=1e-8)


@pytest.fixture(scope="module")
def cure():
    """Share that can have workers, log day and its SD: value and the three."""
    exposure = exposure_of("cure")
    par, shared, tables = arrays(exposure)

    def minus(v):
        par[:, at.FERTILE] = share = expit(v[0])
        par[:, at.LOG_DAY], shared[at.WITHIN_DAYS] = v[1], math.exp(v[2])
        value, gradient, in_shared = study_loglik(par, shared, *tables)
        slopes = (
            gradient[:, at.FERTILE].sum() * share * (1 - share),
            gradient[:, at.LOG_DAY].sum(),
            in_shared[at.WITHIN_DAYS] * shared[at.WITHIN_DAYS],
        )
        return -value, -np.array(slopes)

    found = minimize(minus, [1.0, 3.8, -1.4], jac=True, method="BFGS", options={"gtol": 1e-8})
    return -found.fun, expit(found.x[0]), found.x[1], math.exp(found.x[2])


def test_a_share_that_never_has_workers_is_a_cure_model(cure, told):
    value, share, log_day, within = cure
    assert value == pytest.approx(told["cure", "loglik"], rel=1e-8)
    assert share == pytest.approx(told["cure", "mated"], abs=1e-5)
    assert log_day == pytest.approx(told["cure", "log_day"], abs=1e-5)
    assert within == pytest.approx(told["cure", "within_days"], abs=1e-5)


def test_chances_of_a_worker_by_day_are_those_of_the_cure_model(cure, told):
    _, share, log_day, within = cure
    own = GenusTruth(
        log_hazard=NEVER, log_hazard_workers=NEVER, mated=share, log_median_day=log_day,
        within_days=within, frailty=0.0,
    )  # fmt: skip
    found = recursion(own, (1, 2))
    for day in (30, 45, 60, 90):
        ours = found["chance_by_day", 1, day, ""]
        assert ours == pytest.approx(told["cure", f"by_{day}"], abs=GRID)


@pytest.fixture(scope="module")
def frailty():
    """Four queens without an effect of company: log hazard and SD of the frailty."""
    par, shared, tables = arrays(exposure_of("frailty"))

    def minus(v):
        par[:, at.HAZARD1], shared[at.SIGMA] = v[0], math.exp(v[1])
        return -marginal_loglik(par[None], shared[None], *tables)[0].sum()

    options = {"xatol": 1e-8, "fatol": 1e-10}
    found = minimize(minus, [-4.5, 0.0], method="Nelder-Mead", options=options)
    return found.x[0], math.exp(found.x[1])


def test_a_shared_frailty_is_the_random_effect_of_glmer(frailty, told):
    log_hazard, sd = frailty
    assert log_hazard == pytest.approx(told["frailty", "log_hazard"], abs=5e-4)
    assert sd == pytest.approx(told["frailty", "sd"], abs=5e-4)


def test_queens_alive_are_averaged_over_the_frailty(frailty, told):
    log_hazard, sd = frailty
    own = GenusTruth(log_hazard=log_hazard, mated=0.0, frailty=sd)
    alive = recursion(own, (1, 4))["share_alive", 4, 60, ""]
    assert alive == pytest.approx(told["frailty", "alive_60"], abs=GRID)
    # The founding of middling frailty is not the mean founding.
    assert abs(math.exp(-60 * math.exp(log_hazard)) - alive) > 0.02


@pytest.mark.slow
@pytest.mark.needs_program("Rscript")
def test_r_gives_the_committed_numbers_again(tmp_path, told):
    packages = ["Rscript", "-e", "library(msm); library(lme4); library(survival)"]
    if subprocess.run(packages, capture_output=True, check=False).returncode:
        pytest.skip("needs R's packages msm, lme4 and survival, which are not installed here")
    shutil.copy(HERE / "looks.csv", tmp_path)
    subprocess.run(["Rscript", HERE / "fits.R", tmp_path], check=True, capture_output=True)
    again = r_numbers((tmp_path / "fits.csv").read_text())
    np.testing.assert_allclose(again, told.reindex(again.index), rtol=1e-4)
