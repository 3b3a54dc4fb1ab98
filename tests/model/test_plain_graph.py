"""The compiled kernel against the same likelihood written as a plain graph, slopes included."""

import numpy as np
import pytensor
import pytensor.tensor as pt
import pytest
from plain_graph import plain_loglik

from cohort.exposure import packed
from cohort.history import history
from cohort.simulate.season import simple_study
from cohort.simulate.truth import GenusTruth
from cohort.study import read_study
from cohort.transitions import layout as at
from cohort.transitions.study import study_loglik


@pytest.fixture(scope="module")
def exposure(tmp_path_factory):
    genera = {"Lasius": GenusTruth(last_fight=0.3), "Formica": GenusTruth(rivalry=2.0)}
    made = simple_study(30, genera, sizes=(1, 2, 4), look_every=9, horizon=150, seed=5)
    folder = tmp_path_factory.mktemp("plain") / "study"
    made.write(folder)
    return packed(history(read_study(folder)))


def parameters(rng, exposure):
    n = len(exposure.foundings)
    par = np.zeros((n, at.FOUNDING_WIDTH))
    par[:, at.HAZARD1] = rng.normal(np.log(0.004), 0.5, n)
    par[:, at.TOGETHER] = rng.normal(0, 0.5, n)
    par[:, at.HAZARD2] = rng.normal(np.log(0.002), 0.5, n)
    par[:, at.RIVALRY] = rng.normal(1, 1, n)
    par[:, at.BOTH] = rng.uniform(0.02, 0.6, n)
    par[:, at.LOG_DAY] = rng.normal(np.log(52), 0.1, n)
    par[:, at.FERTILE] = rng.uniform(0.7, 0.99, n)
    par[:, at.FRAILTY] = rng.normal(size=n)
    shared = np.zeros(at.SHARED_WIDTH)
    shared[: at.TAU] = rng.normal(0, 0.3, at.TAU)
    shared[at.TAU], shared[at.SIGMA], shared[at.LOADING] = 0.2, 0.6, 0.8
    return par, shared


def test_kernel_and_plain_graph_agree(exposure):
    tables = exposure.records, exposure.rows, exposure.nodes
    par, shared = pt.dmatrix(), pt.dvector()
    value = plain_loglik(par, shared, *tables)
    plain = pytensor.function(
        [par, shared], [value, *pt.grad(value, [par, shared])], mode="FAST_COMPILE"
    )
    rng = np.random.default_rng(11)
    for _ in range(3):
        p, s = parameters(rng, exposure)
        want = plain(p, s)
        got = study_loglik(p, s, *tables)
        for a, b in zip(want, got, strict=True):
            np.testing.assert_allclose(b, a, rtol=1e-8, atol=1e-8)
    spoilt = exposure.nodes.copy()  # and a table that differs by one loss is not the same
    spoilt[:, at.LONE1] += 1.0
    assert abs(study_loglik(p, s, *tables[:2], spoilt)[0] - want[0]) > 1e-3
