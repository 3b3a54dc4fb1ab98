"""The model handed to readers as a PyMC model: it can be differentiated, and compiled by numba.

What `cohort compare` samples does not go this way, so nothing else would notice a break.
"""

import numpy as np
import pytensor
import pytensor.tensor as pt
import pytest
from by_rows import Rates
from scenes import history_of, lived

import cohort
from cohort.likelihood import layout as at
from cohort.likelihood.assembly import study_by_genus
from cohort.model.log_posterior import log_posterior, packed_study
from cohort.model.op import PARAMETERS, founding_loglik
from cohort.model.priors import Priors
from cohort.model.sample import prepare


@pytest.fixture(scope="module")
def past():
    rates = Rates(level1=0.008, level2=0.006, tau=0.2, phi=0.9, sigma=0.5)
    days = np.arange(7, 161, 7)
    sets = lived(6, 1, rates, days, 1) + lived(6, 3, rates, days, 2)
    return history_of(sets, more={f"F{i}": {"genus": "AB"[i % 2]} for i in range(12)})


def test_slopes_of_the_model_are_those_of_its_density(past):
    model = cohort.founding_model(past)
    assert list(model.coords["genus_name"]) == ["A", "B"]
    start = model.initial_point(random_seed=3)
    rng = np.random.default_rng(4)
    start = {name: value + rng.normal(0, 0.1, np.shape(value)) for name, value in start.items()}
    logp = model.compile_logp(mode="FAST_COMPILE")
    names = {"multi_days": "", "within_days": "_log__", "mated": "_logodds__", "size_step": ""}
    own = [model[name] for name in names]
    gradient = model.compile_dlogp(own, mode="FAST_COMPILE")(start)
    for (name, ending), slope in zip(names.items(), gradient, strict=True):
        sample_nuts = name + ending
        there, back = (start | {sample_nuts: start[sample_nuts] + h} for h in (1e-5, -1e-5))
        assert slope == pytest.approx((logp(there) - logp(back)) / 2e-5, rel=1e-4, abs=1e-4)
        assert abs(slope) > 1e-3


@pytest.mark.slow
def test_the_likelihood_node_compiled_by_numba_is_the_kernel(past):
    design, exposure = prepare(past)
    target = log_posterior(design, exposure, Priors())
    named = target.named(target.start(5)[None, None]).isel(chain=0, draw=0)
    n = len(design.foundings)
    effects = np.array(
        [[-5.6, -5.9], [0.2, -0.1], [-6.0, -6.2], [1.0, 0.4], [-1.5, -1.2], [3.9, 4.0]]
    )
    shared = np.zeros(at.SHARED_WIDTH)
    shared[at.WITHIN_DAYS], shared[at.SIGMA], shared[at.LOADING] = 0.15, 0.5, 1.0
    shared[at.S_SIZE_STEP : at.S_THRESHOLD] = [0.1, -0.2, -0.05, 0.9, 0.8]
    added = np.linspace(-0.2, 0.2, at.PARTS * n).reshape(at.PARTS, n)
    given = [effects, shared, added, named["frailty"].to_numpy()]
    assert len(given) == PARAMETERS
    study = packed_study(design, exposure)
    want = study_by_genus(*given, study)
    inputs = [pt.TensorType("float64", (None,) * np.ndim(v))() for v in given]
    value = founding_loglik(*inputs, study)[0]
    both = [value, *pt.grad(value, inputs)]
    got = pytensor.function(inputs, both, mode="NUMBA")(*given)
    for ours, theirs in zip(got, want, strict=True):
        np.testing.assert_allclose(ours, theirs, rtol=1e-10)
    assert np.isfinite(got[0])
