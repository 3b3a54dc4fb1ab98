"""The whole tree of a comparison: its groups agree with one another, and ArviZ draws from it."""

import warnings

import numpy as np
import pytest
from by_rows import Rates
from scenes import history_of, lived

from cohort.model.looks_of_founding import TALLIES
from cohort.model.pointwise import pointwise
from cohort.model.priors import Priors
from cohort.model.sample import prepare, sample
from cohort.model.sensitivity import log_priors
from cohort.outcomes import outcomes, posterior_draws
from cohort.outcomes.quantities import NO_DAY
from cohort.outcomes.tree import PAIRED, whole_tree

GROUPS = {
    "posterior", "sample_stats", "constant_data", "observed_data", "posterior_predictive",
    "log_likelihood", "log_prior", "prior", "prior_predictive", "outcomes",
}  # fmt: skip


@pytest.fixture(scope="module")
def made():
    rates = Rates(level1=0.006, level2=0.004, tau=0.15, phi=0.9, sigma=0.5)
    days = np.arange(7, 121, 7)
    sets = lived(8, 1, rates, days, 1) + lived(8, 2, rates, days, 2)
    past = history_of(sets, more={f"F{i}": {"genus": "AB"[i % 2]} for i in range(16)})
    design, exposure = prepare(past)
    fit = sample(design, exposure, Priors(), seed=5, draws=150)
    return past, fit, whole_tree(fit, past, attrs={"seed": 5})


def test_it_is_whole_and_of_one_length(made):
    _, fit, tree = made
    assert set(tree.children) == GROUPS
    for group in ("posterior_predictive", "log_likelihood", "log_prior"):
        for name, values in tree[group].data_vars.items():
            assert (values.sizes["chain"], values.sizes["draw"]) == (4, 150), (group, name)
            assert np.isfinite(values).all(), (group, name)
    assert set(tree["observed_data"].data_vars) == set(TALLIES)
    for group in ("posterior_predictive", "prior_predictive"):
        for name in TALLIES:
            assert tree[group][name].dtype == tree["observed_data"][name].dtype
            assert tree[group][name].dims == ("chain", "draw", "founding")
    assert set(tree["prior"].data_vars) == set(tree["posterior"].data_vars)
    for name, values in tree["prior"].data_vars.items():
        assert values.dims == tree["posterior"][name].dims, name
    np.testing.assert_array_equal(tree["log_likelihood"][PAIRED], pointwise(fit, 600))
    theirs = log_priors(fit.posterior, fit.design, fit.priors)
    assert set(tree["log_prior"].data_vars) == set(theirs.data_vars)


def test_outcomes_bear_their_dims(made):
    past, fit, tree = made
    drawn = posterior_draws(fit.posterior, fit.design, fit.priors, seed=fit.seed)
    post = outcomes(drawn, (1, 2), past.horizon)
    group, filled = tree["outcomes"], 0
    for key, values in post.values.items():
        at = {"queens": key.size}
        at |= {"day": int(key.day)} if key.day != NO_DAY else {}
        at |= {"reading": key.reading} if key.reading else {}
        found = group[key.quantity].sel(at).transpose("chain", "draw", "kind").to_numpy()
        np.testing.assert_array_equal(found.reshape(values.shape), values)
        filled += values.size
    known = sum(int(np.isfinite(v).sum()) for v in group.data_vars.values())
    assert known == filled  # and what no key speaks of is nan
    assert list(group["kind"].to_numpy()) == list(post.kinds)


def test_replicates_lie_around_what_was_seen(made):
    _, _, tree = made
    seen, anew = tree["observed_data"].to_dataset(), tree["posterior_predictive"].to_dataset()
    for name in TALLIES:
        totals = anew[name].sum("founding").to_numpy().ravel()
        low, high = np.quantile(totals, [0.005, 0.995])
        assert low <= float(seen[name].sum()) <= high, name
    before = tree["prior_predictive"]["losses_before_workers"].sum("founding")
    assert float(before.std()) > float(anew["losses_before_workers"].sum("founding").std())


@pytest.fixture
def az():
    import matplotlib

    matplotlib.use("Agg")
    import arviz

    with warnings.catch_warnings():
        # of Pareto k, and of plots that suit counts better: told to who looks at them
        warnings.simplefilter("ignore", UserWarning)
        yield arviz


def test_arviz_draws_from_it(made, az):
    tree = made[2]
    import matplotlib.pyplot as plt

    some = ["frailty_sd", "together_mean"]
    for draw, how in (
        (az.plot_forest, {"var_names": ["together", "rivalry"]}),
        (az.plot_rank, {"var_names": some}),
        (az.plot_ppc_dist, {"num_samples": 20}),
        (az.plot_loo_pit, {"var_names": PAIRED}),
        (az.plot_prior_posterior, {"var_names": some}),
    ):
        assert draw(tree, backend="matplotlib", **how) is not None, draw.__name__
        plt.close("all")


def test_arviz_weighs_it(made, az):
    from cohort.model.loo import leave_one_out

    _, fit, tree = made
    left_out = az.loo(tree)
    # theirs asks how many independent draws of the parameters there are, ours of the likelihood
    assert left_out.elpd == pytest.approx(leave_one_out(pointwise(fit, 600)).elpd, abs=0.2)
    assert left_out.n_data_points == 16
    doubled = tree.copy()
    worse = tree["log_likelihood"][PAIRED] - 0.5
    doubled["log_likelihood"] = worse.to_dataset(name=PAIRED)
    ranked = az.compare({"plain": tree, "worse": doubled})
    assert list(ranked.index) == ["plain", "worse"]
    moved = az.psense_summary(tree, var_names=["frailty_sd", "size_step"])
    assert set(moved.index) == {"frailty_sd", "size_step"}
    assert moved["prior"].max() > 0
