"""Draws of the priors by PyMC and by the light code beside it say the same."""

import numpy as np
import pytest
import scene_designs
from in_pymc import drawn

from cohort.likelihood import packing
from cohort.model.graph import written_out
from cohort.model.log_posterior import log_posterior
from cohort.model.prior_draws import named_prior
from cohort.model.priors import EFFECTS, Priors, draw
from cohort.warmth import thresholds

DRAWS = 2000


@pytest.mark.parametrize("scene", ["full", "part"])
def test_prior_draws_of_the_graph_and_without_it_agree(scene):
    design, exposure = scene_designs.SCENES[scene]()
    model = written_out(design, exposure, Priors())
    light = named_prior(design, Priors(), seed=4, draws=DRAWS)
    names = [str(name) for name in light.data_vars]
    graph = dict(zip(names, drawn([model[name] for name in names], DRAWS, 3), strict=True))
    named = {v.name for v in (*model.free_RVs, *model.deterministics)}
    inner = {name for name in named if name.endswith(("_signed", "_coordinate"))}
    assert named - inner == set(names)
    for name in names:
        ours, theirs = light[name].to_numpy()[0], np.asarray(graph[name])
        assert ours.shape == theirs.shape, name
        both = np.sqrt((ours.var(axis=0) + theirs.var(axis=0)) / DRAWS)
        assert (np.abs(ours.mean(axis=0) - theirs.mean(axis=0)) < 4.5 * both + 1e-12).all(), name
        for share in (0.05, 0.5, 0.95):
            gap = np.quantile(ours, share, axis=0) - np.quantile(theirs, share, axis=0)
            width = np.quantile(ours, [max(0, share - 0.045), min(1, share + 0.045)], axis=0)
            assert (np.abs(gap) <= width[1] - width[0] + 1e-12).all(), (name, share)


def test_every_genus_has_the_prior_it_is_said_to_have():
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


def test_the_prior_of_the_threshold_keeps_to_its_ends():
    design, exposure = scene_designs.logged()
    model = written_out(design, exposure, Priors())
    low, high = thresholds(design.reference)
    values = drawn(model["warm_threshold"], 4000, 2)
    assert values.min() >= low
    assert values.max() <= high
    assert values.mean() == pytest.approx(12.0, abs=0.2)
    rows = log_posterior(design, exposure, Priors()).rows
    (row,) = rows[rows[:, packing.FAMILY] == packing.CUT_NORMAL]
    assert tuple(row[[packing.LOW, packing.HIGH]]) == (low, high)
