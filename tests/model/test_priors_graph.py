"""The graph and the light code beside it say the same: priors, and parameters of every draw."""

import numpy as np
import pymc as pm
import pytest
import scene_designs

from cohort.likelihood import layout as at
from cohort.likelihood import packing
from cohort.likelihood.study import study_loglik
from cohort.model.design import VARIANTS
from cohort.model.graph import written_out
from cohort.model.kernel_arrays import by_founding, stacked
from cohort.model.log_posterior import log_posterior
from cohort.model.priors import EFFECTS, Priors, draw
from cohort.warmth import thresholds

DRAWS = 4000


@pytest.fixture(scope="module")
def parts():
    design, exposure = scene_designs.plain()
    return design, exposure, written_out(design, exposure, Priors())


def test_prior_draws_of_the_graph_and_without_it_agree(parts):
    design, _, model = parts
    # the potential is no part of the prior; a forward draw leaves it out and says so
    with model, pytest.warns(UserWarning, match="[Pp]otential"):
        drawn = pm.sample_prior_predictive(DRAWS, random_seed=3)
    graph = drawn["prior"].to_dataset().isel(chain=0)
    light = draw(Priors(), 3, DRAWS, np.random.default_rng(4), pooled_fight=design.pooled_fight)
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
        own = priors[effect]
        sd = np.abs(rng.normal(0, own.between, 200_000))
        plain = rng.normal(rng.normal(own.mean, own.sd, 200_000), sd)
        ours = light["genus"][:, i, 1]
        assert ours.mean() == pytest.approx(plain.mean(), abs=0.02)
        assert ours.std() == pytest.approx(plain.std(), rel=0.02)
        # two genera share their mean: correlation s0^2 / (s0^2 + E sd^2)
        shared = np.corrcoef(light["genus"][:, i, 0], light["genus"][:, i, 2])[0, 1]
        assert shared == pytest.approx(own.sd**2 / (own.sd**2 + own.between**2), abs=0.02)


@pytest.mark.parametrize(
    ("scene", "variant"),
    [(scene, "") for scene in scene_designs.SCENES] + [("full", v) for v in VARIANTS if v],
)
def test_the_graph_and_the_arrays_outside_it_give_one_likelihood(scene, variant):
    design, exposure = scene_designs.SCENES[scene]()
    design = design.as_variant(variant)
    target = log_posterior(design, exposure, Priors())
    q = scene_designs.some(target, 5)
    named = target.named(q[None, None])
    model = written_out(design, exposure, Priors())
    point, _ = scene_designs.in_plain_words(target, q)
    logp = model.compile_logp(vars=model.potentials, mode="FAST_COMPILE")
    want = float(logp({v.name: point[v.name] for v in model.value_vars}))
    assert ("warm_threshold" in named) == (scene in ("logged", "part"))
    par, shared = by_founding(stacked(named), design)
    tables = exposure.records, exposure.rows, exposure.nodes
    ours = study_loglik(par[0], shared[0], *tables)[0]
    assert ours == pytest.approx(want, rel=1e-9)
    if "warm_threshold" in named:
        assert set(par[0][:, at.THRESHOLD]) == {float(named["warm_threshold"][0, 0])}
        other = par[0].copy()
        other[:, at.THRESHOLD] += 1.0
        assert abs(study_loglik(other, shared[0], *tables)[0] - ours) > 1e-4
    par[0][:, 0] += 0.1
    assert abs(study_loglik(par[0], shared[0], *tables)[0] - ours) > 1e-4


def test_the_prior_of_the_threshold_keeps_to_its_ends():
    design, exposure = scene_designs.logged()
    model = written_out(design, exposure, Priors())
    low, high = thresholds(design.reference)
    drawn = pm.draw(model["warm_threshold"], draws=4000, random_seed=2, mode="FAST_COMPILE")
    assert drawn.min() >= low
    assert drawn.max() <= high
    assert drawn.mean() == pytest.approx(12.0, abs=0.2)
    rows = log_posterior(design, exposure, Priors()).rows
    (row,) = rows[rows[:, packing.FAMILY] == packing.CUT_NORMAL]
    assert tuple(row[[packing.LOW, packing.HIGH]]) == (low, high)
