"""The compiled kernel against the same likelihood written as a plain graph, gradient included."""

import numpy as np
import pytensor
import pytensor.tensor as pt
import pytest
from plain_graph import assembled, plain_loglik

from cohort.history import history
from cohort.likelihood import layout as at
from cohort.likelihood.assembly import in_one, study_by_genus
from cohort.likelihood.exposure import packed
from cohort.likelihood.study import study_loglik
from cohort.likelihood.warm_tables import warm_tables
from cohort.simulate.season import simple_study
from cohort.simulate.truth import GenusTruth
from cohort.study import read_study
from cohort.warmth import WarmClock


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
    par[:, at.LAST_FIGHT] = rng.uniform(0.02, 0.6, n)
    par[:, at.LOG_DAY] = rng.normal(np.log(52), 0.1, n)
    par[:, at.FERTILE] = rng.uniform(0.7, 0.99, n)
    par[:, at.FRAILTY] = rng.normal(size=n)
    shared = np.zeros(at.SHARED_WIDTH)
    shared[: at.WITHIN_DAYS] = rng.normal(0, 0.3, at.WITHIN_DAYS)
    shared[at.WITHIN_DAYS], shared[at.SIGMA], shared[at.LOADING] = 0.2, 0.6, 0.8
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


def whole_model(exposure, lasting):
    """The plain graph from the effects of genera on, and one draw of all it takes."""
    rng = np.random.default_rng(21)
    n = len(exposure.foundings)
    size = exposure.foundings["size"].to_numpy()
    genus = (exposure.foundings["genus"] == "Lasius").to_numpy().astype(int)
    who = np.stack([genus, size, np.minimum(size, rng.integers(0, 3, n))], axis=1)
    effects = rng.normal(0, 0.4, (6, 2))
    effects += np.array([np.log(0.004), 0.0, np.log(0.002), 1.0, -1.5, np.log(50)])[:, None]
    shared = np.zeros(at.SHARED_WIDTH)
    shared[: at.WITHIN_DAYS] = rng.normal(0, 0.3, at.WITHIN_DAYS)
    shared[at.WITHIN_DAYS], shared[at.SIGMA], shared[at.LOADING] = 0.2, 0.6, 0.8
    shared[at.S_SIZE_STEP :] = [0.3, -0.4, -0.2, 0.7, 0.8, 10.0, lasting]
    added = rng.normal(0, 0.1, (at.PARTS, n))
    draw = [effects, shared, added, rng.normal(0, 1, n)]
    inputs = [pt.dmatrix(), pt.dvector(), pt.dmatrix(), pt.dvector()]
    par = assembled(*inputs, who)
    value = plain_loglik(par, inputs[1], exposure.records, exposure.rows, exposure.nodes)
    outputs = [value, *pt.grad(value, inputs, disconnected_inputs="ignore")]
    plain = pytensor.function(inputs, outputs, mode="FAST_COMPILE")
    steps = rng.normal(0, 0.3, (at.N1 + at.N2, 7))
    study = in_one(who, steps, exposure.records, exposure.rows, exposure.nodes)
    return plain, draw, study


@pytest.mark.parametrize("lasting", [0.0, 1.0])
def test_from_the_effects_of_genera_on(exposure, lasting):
    plain, draw, study = whole_model(exposure, lasting)
    want = plain(*draw)
    want[2][at.S_LASTING] = 0.0  # a switch: data, for which the kernel gives no derivative
    got = study_by_genus(*draw, study)
    assert len(got) == len(want)
    for a, b in zip(want, got, strict=True):
        np.testing.assert_allclose(b, a, rtol=1e-8, atol=1e-8)
    names = "LASTING", "SIZE_STEP", "SIZE_STEP_RIVALRY", "MULTI_DAYS", "MATED", "SEEN"
    for place in (getattr(at, f"S_{name}") for name in names):
        draw[1][place] = 0.5  # each of them matters
        assert abs(study_by_genus(*draw, study)[0] - want[0]) > 1e-3
        draw[1][place] = 0.0
    draw[1][at.S_MATED] = 0.7  # all that moves the first worker matters only where one may come
    usual = study_by_genus(*draw, study)[0]
    for part in range(at.PARTS):
        draw[2][part] += 0.2
        assert abs(study_by_genus(*draw, study)[0] - usual) > 1e-3
        draw[2][part] -= 0.2


def test_shifts_that_do_not_enter_are_shifts_of_zero(exposure):
    _, draw, study = whole_model(exposure, 0.0)
    draw[2] = np.zeros((at.PARTS, len(draw[3])))
    zero = study_by_genus(*draw, study)
    draw[2] = np.zeros((at.PARTS, 0))
    none = study_by_genus(*draw, study)
    assert none[0] == zero[0]
    assert none[3].shape == (at.PARTS, 0)


def test_they_agree_on_degree_days_by_thresholds_kept_as_by_the_log_itself(exposure):
    rng = np.random.default_rng(12)
    clocks = [
        None if i % 5 else WarmClock(low, low + rng.uniform(3, 9, 160), 24.0)
        for i, low in enumerate(rng.normal(19, 2, (len(exposure.foundings), 160)))
    ]
    records, nodes = warm_tables(exposure.records, exposure.nodes, clocks)
    par, shared = pt.dmatrix(), pt.dvector()
    value = plain_loglik(par, shared, exposure.records, exposure.rows, exposure.nodes, clocks)
    plain = pytensor.function(
        [par, shared], [value, *pt.grad(value, [par, shared])], mode="FAST_COMPILE"
    )
    p, s = parameters(rng, exposure)
    # at a threshold that is kept they agree; between two, as far as the cubic is close
    for level, near in ((12.0, 1e-7), (18.0, 1e-7), (13.3, 5e-3), (16.9, 5e-3)):
        p[:, at.THRESHOLD] = level
        want = plain(p, s)
        got = study_loglik(p, s, records, exposure.rows, nodes)
        assert abs(got[0] - want[0]) < near
        for a, b in zip(want[1:], got[1:], strict=True):
            np.testing.assert_allclose(b, a, rtol=near, atol=10 * near)
        days = study_loglik(p, s, exposure.records, exposure.rows, exposure.nodes)
        assert abs(days[0] - want[0]) > 0.5  # plain days are not the same
        assert np.abs(want[1][:, at.THRESHOLD]).max() > 1e-2
