"""The founding model against the same model written in Stan from MODEL.md.

`whole_model/founding.stan` and the R files beside it share no code with ours: they read counts at
looks (`plain_export.py` writes them), sum over the day of the first worker in cells and over the
count at it, and follow new foundings queen by queen. What they found is committed with versions and
date; ours is computed here:

* every founding's log-likelihood at parameters drawn once (also of late entries),
* every outcome of the recursion at such parameters,
* slow: every parameter and outcome of a posterior, within four Monte Carlo standard errors,
* slow, where Stan is installed: the committed likelihoods made again.
"""

import math
import os
import shutil
import subprocess
from dataclasses import replace

import beside_stan as beside
import numpy as np
import pandas as pd
import plain_export
import pytest

from cohort.likelihood import layout as at
from cohort.likelihood.exposure import packed
from cohort.likelihood.study import study_loglik
from cohort.model.design import ModelDesign
from cohort.model.kernel_arrays import by_founding, stacked
from cohort.model.priors import Priors
from cohort.model.sample import prepare
from cohort.outcomes import outcomes, posterior_draws

STUDIES = tuple(plain_export.STUDIES)
LIKELY = -20.0
"""Log-likelihood of one founding below which cells of days are too coarse for both programs."""


def read(study, table, index):
    return pd.read_csv(beside.HERE / study / f"{table}.csv", comment="#").set_index(index)


@pytest.fixture(scope="module", params=STUDIES)
def study(request):
    return request.param


@pytest.fixture(scope="module")
def past(study):
    return plain_export.STUDIES[study]()


def test_the_tables_they_read_are_those_of_today(study, past, tmp_path):
    plain_export.export(past, tmp_path)
    for name in ("foundings", "intervals", "switches"):
        now, then = (p / f"{name}.csv" for p in (tmp_path, beside.HERE / study))
        pd.testing.assert_frame_equal(pd.read_csv(now), pd.read_csv(then))


def likelihoods(past, wide, cell, change=lambda par, shared: None):
    """Log-likelihood of each founding at each draw, given its frailty."""
    design, _ = prepare(past)
    par, shared = by_founding(stacked(beside.as_posterior(wide, design)), design)
    change(par, shared)
    exposure = packed(past, cell=cell)
    out = np.zeros((par.shape[1], par.shape[0]))
    for i in range(par.shape[1]):
        own = exposure.records[exposure.records[:, at.OWNER] == i].copy()
        own[:, at.OWNER] = 0
        for d in range(par.shape[0]):
            tables = own, exposure.rows, exposure.nodes
            out[i, d] = study_loglik(par[d, i : i + 1], shared[d], *tables)[0]
    return out


def test_every_founding_is_as_likely_as_in_stan(study, past):
    wide, theirs = read(study, "drawn", "name"), read(study, "likelihoods", "founding")
    likely = theirs.to_numpy() > LIKELY
    assert likely.mean() > 0.9
    fine = likelihoods(past, wide, 0.5) - theirs.to_numpy()
    usual = likelihoods(past, wide, 2.0) - theirs.to_numpy()
    assert np.abs(fine[likely]).max() < 0.02
    assert np.median(np.abs(fine)) < 1e-4
    assert np.abs(usual[likely]).max() < 0.05  # what the sampler uses, in cells of two days
    if study == "late":
        entered = past.foundings.loc[past.foundings["compared"], "entry"].to_numpy() > 0
        assert entered.sum() > 10


def shares_fight(par, shared):
    par[..., at.LAST_FIGHT] = 0.0


def alike_after(par, shared):
    par[..., at.RIVALRY] = 0.0


def alike_before(par, shared):
    par[..., at.TOGETHER] = 0.0


def all_mated(par, shared):
    par[..., at.FERTILE] = 1.0


def steady(par, shared):
    shared[:, at.STEPS2 : at.STEPS2 + at.N2] = 0.0


@pytest.mark.parametrize("wrong", [shares_fight, alike_after, alike_before, all_mated, steady])
def test_a_part_left_out_would_be_seen(wrong):
    past = plain_export.simulated()
    wide, theirs = read("simulated", "drawn", "name"), read("simulated", "likelihoods", "founding")
    likely = theirs.to_numpy() > LIKELY
    off = likelihoods(past, wide, 2.0, wrong) - theirs.to_numpy()
    assert (np.abs(off[likely]) > 0.1).sum() > 30


def recursion_at(design: ModelDesign, wide, sizes, horizon):
    """Outcomes at the first draws, keyed as followed.csv, one column per draw."""
    draws = posterior_draws(beside.as_posterior(wide, design), design, Priors(), seed=1)
    post = outcomes(replace(draws, chains=1), sizes, horizon)
    rows = {}
    for key, values in post.values.items():
        day = key.day if math.isfinite(key.day) else -1.0
        for g, genus in enumerate(design.genera):
            own = np.log(values[:, g]) if key.quantity in beside.LOGS else values[:, g]
            rows[genus, key.quantity, key.reading, day, key.size] = own
    return rows


@pytest.fixture(scope="module")
def followed():
    """Outcomes of foundings followed in R, at the first draws, and how far each may be off."""
    told = pd.read_csv(beside.HERE / "simulated" / "followed.csv", comment="#")
    told["reading"], told["day"] = told["reading"].fillna(""), told["day"].fillna(-1.0)
    # The two-day grid and eight nodes of the frailty are allowed .001 a chance (.1 day).
    allowed = told["quantity"].map({"queen_days": 0.1, "median_day": 0.1}).fillna(0.001)
    several = ["expected_left", "same_queens_count", "colonies_from_same_queens"]
    queens = told["quantity"].isin(several)
    told["allowed"] = allowed * told["queens"].where(queens, 1) + 4 * told["mcse"]
    return told


def off_by(followed, changed=()):
    """Ours less theirs, row by row; ``changed`` holds parameters at other values."""
    past = plain_export.simulated()
    design, _ = prepare(past)
    wide = read("simulated", "drawn", "name").iloc[:, : followed["draw"].max()].copy()
    for name, value in changed:
        wide.loc[name] = value
    sizes = tuple(sorted(followed["queens"].unique()))
    ours = recursion_at(design, wide, sizes, past.horizon)
    key = ["genus", "quantity", "reading", "day", "queens"]
    found = [ours[tuple(r[k] for k in key)][r["draw"] - 1] for _, r in followed.iterrows()]
    return np.array(found) - followed["mean"]


def test_every_outcome_is_that_of_foundings_followed_in_r(followed):
    off = off_by(followed)
    assert np.isfinite(off).all()
    wrong = followed[off.abs() > followed["allowed"]]
    assert wrong.empty, wrong
    assert set(followed["quantity"]) >= {
        "chance_per_founding", "chance_lasting", "same_queens_any", "same_queens_count",
        "share_alive", "chance_by_day", "median_day", "expected_left", "chance_none_left",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("changed", "seen_in"),
    [
        ([("mated", 1.0)], "chance_lasting"),
        ([("frailty_sd", 0.0)], "share_alive"),
        ([("size_step_rivalry", 0.5)], "expected_left"),
        ([(f"last_fight[{g}]", -9.0) for g in plain_export.GENERA], "chance_none_left"),
        ([("multi_days", 0.4)], "median_day"),
    ],
)
def test_an_outcome_that_goes_by_another_number_would_be_seen(followed, changed, seen_in):
    wrong = followed[off_by(followed, changed).abs() > followed["allowed"]]
    assert seen_in in set(wrong["quantity"])
    assert len(wrong) > 50


# ---- posteriors


@pytest.mark.parametrize("name", ["simulated", "demo"])
@pytest.mark.parametrize("table", ["parameters", "outcomes"])
def test_the_committed_tables_say_within_four_errors(name, table):
    """They are those of Stan that lie here: none made anew and left unjoined."""
    joined = pd.read_csv(beside.HERE / name / f"agreement_{table}.csv", keep_default_na=False)
    told = beside.theirs(name, table)
    assert len(joined) > 0.6 * len(told)
    assert joined["errors"].abs().max() < 4
    index = beside.KEY if table == "outcomes" else "name"
    words = joined.astype(dict.fromkeys(beside.KEY, str)) if table == "outcomes" else joined
    then = words.set_index(index)["mean_theirs"]
    np.testing.assert_allclose(then, told.loc[then.index, "mean"], atol=2e-6)


@pytest.fixture(scope="module")
def fitted(study, past):
    """Our posterior of a study, and outcomes of 1,000 of its draws."""
    if study == "late":
        pytest.skip("Stan did not sample this study: its likelihoods alone are compared")
    return beside.fitted(past)


@pytest.mark.slow
def test_parameters_agree_within_four_errors(study, fitted):
    fit, _ = fitted
    assert int(fit.stats["diverging"].sum()) <= 5
    table = beside.agreement(beside.parameters(fit), beside.theirs(study, "parameters"))
    assert len(table) > 90
    wrong = table[table["errors"].abs() > 4]
    assert wrong.empty, wrong
    # SDs agree too: a posterior too narrow by a fifth would be seen
    ratio = table["sd_ours"] / table["sd_theirs"]
    assert abs(np.log(ratio).median()) < 0.02


@pytest.mark.slow
def test_printed_outcomes_agree_within_four_errors(study, fitted):
    _, post = fitted
    table = beside.agreement(
        beside.outcome_rows(post, post.chains), beside.theirs(study, "outcomes")
    )
    assert len(table) > 300
    wrong = table[table["errors"].abs() > 4]
    assert wrong.empty, wrong


@pytest.mark.slow
@pytest.mark.needs_program("Rscript")
def test_stan_gives_the_committed_likelihoods_again(tmp_path):
    """The program compiled and asked anew; its posterior is made by hand, see README.md."""
    asked = ["Rscript", "-e", "library(rstan)"]
    if subprocess.run(asked, capture_output=True, check=False).returncode:
        pytest.skip("needs R's package rstan, which is not installed here")
    for name in STUDIES:
        (tmp_path / name).mkdir()
        for table in ("foundings", "intervals", "switches"):
            shutil.copy(beside.HERE / name / f"{table}.csv", tmp_path / name)
    places = [str(tmp_path / name) for name in STUDIES]
    subprocess.run(["Rscript", beside.HERE / "likelihoods.R", *places], check=True, env=os.environ)
    for name in STUDIES:
        again = pd.read_csv(tmp_path / name / "likelihoods.csv", comment="#", index_col=0)
        then = read(name, "likelihoods", "founding")
        np.testing.assert_allclose(again, then, atol=1e-5)
