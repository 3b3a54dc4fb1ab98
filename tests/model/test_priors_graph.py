"""The graph and the light code beside it say the same: priors, and parameters of every draw."""

from dataclasses import replace

import numpy as np
import pymc as pm
import pytest
import xarray as xr
from by_rows import Rates
from scenes import history_of, lived

from cohort.exposure import packed, warm_tables
from cohort.model.geometry import EASED, unsigned
from cohort.model.graph import founding_model
from cohort.model.lineup import line_up
from cohort.model.pointwise import parameters
from cohort.model.priors import EFFECTS, Priors, draw
from cohort.model.sample import named
from cohort.transitions import layout as at
from cohort.transitions.study import study_loglik
from cohort.warm_clock import WarmClock, Warmth, thresholds

DRAWS = 4000


@pytest.fixture(scope="module")
def parts():
    rates = Rates(level1=0.006, level2=0.004, tau=0.15, phi=0.9, sigma=0.5)
    days = np.arange(7, 161, 7)
    sets = lived(6, 1, rates, days, 1) + lived(6, 3, rates, days, 2)
    more = {f"F{i}": {"genus": "ABC"[i % 3], "mating_seen": i % 2} for i in range(12)}
    exposure = packed(history_of(sets, more=more))
    lineup = line_up(exposure)
    return lineup, exposure, founding_model(lineup, exposure, Priors())


@pytest.fixture(scope="module")
def logged(parts):
    """The same study, half of it with shelf logs."""
    exposure = parts[1]
    low = np.random.default_rng(8).normal(18.0, 2.0, 170)
    clocks = {f"F{i}": WarmClock(low + i, low + i + 6.0, 24.0) for i in range(0, 12, 2)}
    mine = [clocks.get(name) for name in exposure.foundings["founding"]]
    records, nodes = warm_tables(exposure.records, exposure.nodes, mine)
    warmth = Warmth(clocks, 24.0, {f"F{i}": "no shelf is noted" for i in range(1, 12, 2)})
    exposure = replace(exposure, records=records, nodes=nodes, warmth=warmth)
    lineup = line_up(exposure)
    return lineup, exposure, founding_model(lineup, exposure, Priors())


def test_prior_draws_of_the_graph_and_without_it_agree(parts):
    lineup, _, model = parts
    # the potential is no part of the prior; a forward draw leaves it out and says so
    with model, pytest.warns(UserWarning, match="[Pp]otential"):
        drawn = pm.sample_prior_predictive(DRAWS, random_seed=3)
    graph = unsigned(drawn["prior"].to_dataset()).isel(chain=0)
    light = draw(Priors(), 3, DRAWS, np.random.default_rng(4), pooled_fight=lineup.pooled_fight)
    for name, values in light.items():
        ours = values
        theirs = graph[name].transpose("draw", ...).to_numpy()
        assert ours.shape == theirs.shape, name
        both = np.sqrt((ours.var(axis=0) + theirs.var(axis=0)) / DRAWS)
        assert (np.abs(ours.mean(axis=0) - theirs.mean(axis=0)) < 4.5 * both + 1e-12).all(), name
        for share in (0.05, 0.5, 0.95):
            gap = np.quantile(ours, share, axis=0) - np.quantile(theirs, share, axis=0)
            width = np.quantile(ours, [max(0, share - 0.03), min(1, share + 0.03)], axis=0)
            assert (np.abs(gap) <= width[1] - width[0] + 1e-12).all(), (name, share)


def test_every_genus_has_the_prior_it_is_said_to_have(parts):
    # mean over the study's genera plus deviations that sum to zero = Normal(mean, sd) each
    priors, genera = Priors(), 3
    light = draw(priors, genera, 200_000, np.random.default_rng(6))
    rng = np.random.default_rng(7)
    for i, effect in enumerate(EFFECTS):
        own = priors.genus[effect]
        sd = np.abs(rng.normal(0, own.between, 200_000))
        plain = rng.normal(rng.normal(own.mean, own.sd, 200_000), sd)
        ours = light["genus"][:, i, 1]
        assert ours.mean() == pytest.approx(plain.mean(), abs=0.02)
        assert ours.std() == pytest.approx(plain.std(), rel=0.02)
        # two genera share their mean: correlation s0^2 / (s0^2 + E sd^2)
        shared = np.corrcoef(light["genus"][:, i, 0], light["genus"][:, i, 2])[0, 1]
        assert shared == pytest.approx(own.sd**2 / (own.sd**2 + own.between**2), abs=0.02)


@pytest.mark.parametrize("which", ["parts", "logged"])
def test_the_graph_and_the_arrays_outside_it_give_one_likelihood(which, request):
    lineup, exposure, model = request.getfixturevalue(which)
    assert lineup.logged.any() == (which == "logged")
    assert ("warm_threshold" in model.named_vars) == (which == "logged")
    with model:
        point = model.initial_point(random_seed=5)
    rng = np.random.default_rng(9)
    point = {k: np.asarray(v + rng.normal(0, 0.3, np.shape(v))) for k, v in point.items()}
    total = float(model.compile_logp()(point))
    prior = float(model.compile_logp(vars=model.free_RVs)(point))
    variables = model.deterministics + model.free_RVs
    outputs = model.replace_rvs_by_values(variables)
    f = model.compile_fn(outputs, inputs=model.value_vars, on_unused_input="ignore")
    one = {}
    for variable, value in zip(variables, f(point), strict=True):
        if variable.name.endswith(EASED):
            continue
        dims = model.named_vars_to_dims.get(variable.name, ())
        one[variable.name] = (("chain", "draw", *dims), np.asarray(value)[None, None])
    coords = {k: list(v) for k, v in model.coords.items() if v is not None}
    par, shared = parameters(named(xr.Dataset(one, coords=coords)), lineup)
    ours = study_loglik(par[0], shared[0], exposure.records, exposure.rows, exposure.nodes)[0]
    assert ours == pytest.approx(total - prior, rel=1e-9)
    if which == "logged":
        assert set(par[0][:, at.THRESHOLD]) == {float(one["warm_threshold"][1][0, 0])}
        other = par[0].copy()
        other[:, at.THRESHOLD] += 1.0
        moved = study_loglik(other, shared[0], exposure.records, exposure.rows, exposure.nodes)[0]
        assert abs(moved - ours) > 1e-4
    par[0][:, 0] += 0.1
    off = study_loglik(par[0], shared[0], exposure.records, exposure.rows, exposure.nodes)[0]
    assert abs(off - ours) > 1e-4


def test_the_prior_of_the_threshold_keeps_to_its_ends(logged):
    lineup, _, model = logged
    low, high = thresholds(lineup.reference)
    drawn = pm.draw(model["warm_threshold"], draws=4000, random_seed=2, mode="FAST_COMPILE")
    assert drawn.min() >= low
    assert drawn.max() <= high
    assert drawn.mean() == pytest.approx(12.0, abs=0.2)
    assert lineup.shape != replace(lineup, logged=np.zeros(12, bool)).shape
    assert lineup.shape != replace(lineup, reference=20.0).shape
