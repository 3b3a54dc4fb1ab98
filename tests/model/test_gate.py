"""The gate: what shuts it, in plain words, and what does not."""

import numpy as np
import pytest
import xarray as xr

from cohort.model.gate import judge


def posterior(seed=1, *, shift=0.0, sticky=0.0, draws=1000):
    """Four chains of normal draws; one may be shifted, all may be slow."""
    rng = np.random.default_rng(seed)
    x = rng.normal(size=(4, draws, 2))
    for t in range(1, draws):
        x[:, t] = sticky * x[:, t - 1] + np.sqrt(1 - sticky**2) * x[:, t]
    x[0] += shift
    return xr.Dataset(
        {
            "rivalry": (("chain", "draw", "genus"), x),
            "frailty": (("chain", "draw", "founding"), x * 0 + np.arange(2)),
        },
        coords={"genus": ["Lasius", "Messor"], "founding": ["a", "b"]},
    )


def stats(*, diverging=0, stuck=False, draws=1000):
    rng = np.random.default_rng(2)
    energy = rng.normal(size=(4, draws))
    if stuck:
        energy[2] = np.cumsum(0.05 * rng.normal(size=draws)) + 10 * np.sin(np.arange(draws) / 300)
    bad = np.zeros((4, draws), bool)
    bad.flat[:diverging] = True
    return xr.Dataset(
        {"diverging": (("chain", "draw"), bad), "energy": (("chain", "draw"), energy)}
    )


GOOD = {"chance_lasting[Lasius, 3, day 180]": np.random.default_rng(3).normal(size=(4, 400))}


def test_good_draws_pass():
    found = judge(posterior(), stats(), GOOD)
    assert found.settled
    assert found.reasons == ()
    assert found.rhat <= 1.01
    assert found.ess_bulk >= 400
    assert found.as_dict()["reasons"] == []


def test_chains_that_disagree_shut_it_and_are_named():
    found = judge(posterior(shift=0.4), stats(), GOOD)
    assert not found.settled
    assert found.worst in {"rivalry[Lasius]", "rivalry[Messor]"}
    assert any("do not agree on rivalry" in why for why in found.reasons)


def test_one_divergence_shuts_it():
    found = judge(posterior(), stats(diverging=1), GOOD)
    assert not found.settled
    assert found.reasons == ("1 steps of the sampler went astray",)


def test_slow_chains_shut_it():
    found = judge(posterior(sticky=0.97), stats(), GOOD)
    assert not found.settled
    assert any("too few independent draws" in why for why in found.reasons)


def test_a_printed_outcome_is_judged_too():
    outcome = GOOD["chance_lasting[Lasius, 3, day 180]"].copy()
    outcome[1] += 0.5
    name = "chance_lasting[Lasius, 3, day 180]"
    found = judge(posterior(), stats(), GOOD | {name: outcome})
    assert not found.settled
    assert found.reasons[0] == f"the chains do not agree on {name} ({found.rhat_outcomes:.3f})"
    assert found.rhat <= 1.01 < found.rhat_outcomes
    nothing = judge(posterior(), stats(), {})
    assert (nothing.settled, nothing.rhat_outcomes) == (True, 1.0)


def test_the_scatter_of_few_draws_does_not_shut_it():
    """Chains that mix, 650 independent draws in 1,500: some R-hat of forty passes 1.01."""
    rng = np.random.default_rng(4)
    x = rng.normal(size=(40, 4, 375))
    for t in range(1, 375):
        x[..., t] = 0.4 * x[..., t - 1] + np.sqrt(1 - 0.4**2) * x[..., t]
    found = judge(posterior(), stats(), {f"chance {i}": own for i, own in enumerate(x)})
    assert found.settled
    assert 1.01 < found.rhat_outcomes <= 1.02  # held to the limit of parameters it would be shut


def test_a_chain_that_hardly_changes_its_energy_shuts_it():
    found = judge(posterior(), stats(stuck=True), GOOD)
    assert any("energy" in why for why in found.reasons)
    assert found.ebfmi < 0.3


def test_nan_never_passes():
    broken = posterior()
    broken["rivalry"][0, 10, 0] = np.nan
    assert not judge(broken, stats(), GOOD).settled


def test_what_never_varies_is_not_judged_and_frailties_are_not_named():
    still = posterior().assign(walk=(("chain", "draw"), np.zeros((4, 1000))))
    assert judge(still, stats(), GOOD).settled


def test_a_chain_stuck_at_another_place_is_judged():
    stuck = posterior().assign(
        walk=(("chain", "draw"), np.repeat([[0.0], [0.0], [0.0], [1.0]], 1000, axis=1))
    )
    assert not judge(stuck, stats(), GOOD).settled


@pytest.mark.parametrize("runs", [1, 2])
def test_it_says_how_many_runs_it_took(runs):
    assert judge(posterior(), stats(), GOOD, runs=runs).runs == runs
