"""Eight schools through our own partial pooling: mean of the groups plus deviations summing to 0.

Rubin (1981), data and model (mu normal with SD 5, tau half-Cauchy with scale 5) as in posteriordb,
which prints mu 4.4105 (Monte Carlo error .033) and tau 3.6021 (R). The targets are exact integrals.
"""

import math

import numpy as np
import pytest
from numba import carray, cfunc
from scipy.stats import norm

from cohort.likelihood import callbacks, density
from cohort.likelihood import packing as at
from cohort.likelihood.callbacks import handed
from cohort.likelihood.genera import table_of
from cohort.model import nuts
from cohort.model.design import ModelDesign
from cohort.model.families import BetweenGenera
from cohort.model.information import Information
from cohort.model.log_posterior import uncentred
from cohort.model.parameters import EFFECTS
from cohort.model.priors import Priors

EFFECT = np.array([28.0, 8, -3, 7, -1, 1, 18, 12])
ERROR = np.array([15.0, 10, 16, 11, 9, 11, 10, 18])
EXACT_MU, EXACT_TAU = 4.396820714, 3.597705484
PRINTED_MU, PRINTED_ERROR, PRINTED_TAU = 4.4105, 0.033, 3.6021
"""Posteriordb, 10,000 draws; no error of tau was recorded, its SD of 3.2 gives the same."""
EXACT_THETA = [
    6.211884, 4.940178, 3.927004, 4.757098, 3.615477, 4.042613, 6.296724, 4.854253
]  # fmt: skip
SCHOOLS = len(EFFECT)
SCALE = 5.0
WIDE = 30.0


def halved_cauchy(tau):
    return 2 / (math.pi * SCALE * (1 + (tau / SCALE) ** 2))


def moments(tau, together):
    """Given tau: weight of the data, and mean effects, under either form of the pooling.

    The form that is sampled has the mean of the eight as a normal with variance 25 + tau^2 / 8 and
    deviations with the covariance tau^2 (I - J / 8); the other has eight draws around a mu.
    """
    j = np.full((SCHOOLS, SCHOOLS), 1.0)
    if together:
        cover = (SCALE**2 + tau**2 / SCHOOLS) * j + tau**2 * (np.eye(SCHOOLS) - j / SCHOOLS)
    else:
        cover = SCALE**2 * j + tau**2 * np.eye(SCHOOLS)
    whole = cover + np.diag(ERROR**2)
    solved = np.linalg.solve(whole, EFFECT)
    sign, size = np.linalg.slogdet(whole)
    assert sign > 0
    weight = math.exp(-0.5 * (size + EFFECT @ solved)) * halved_cauchy(tau)
    return weight, cover @ solved, SCALE**2 * solved.sum()


@pytest.mark.parametrize("together", [True, False])
def test_both_forms_of_pooling_have_the_exact_posterior(together):
    x, w = np.polynomial.legendre.leggauss(400)
    angle = 0.25 * math.pi * (x + 1)  # tau = 5 tan(angle): the prior is flat in the angle
    tau = SCALE * np.tan(angle)
    parts = [moments(t, together) for t in tau]
    weight = np.array([p[0] for p in parts]) * w / np.cos(angle) ** 2
    weight /= weight.sum()
    np.testing.assert_allclose(weight @ np.array([p[1] for p in parts]), EXACT_THETA, rtol=1e-6)
    assert weight @ np.array([p[2] for p in parts]) == pytest.approx(EXACT_MU, rel=1e-6)
    assert weight @ tau == pytest.approx(EXACT_TAU, rel=1e-6)


def test_a_mean_without_the_share_of_the_deviations_is_another_prior():
    """Forgetting sd^2 / G in the variance of the mean pools too much."""
    tau, j = 10.0, np.full((SCHOOLS, SCHOOLS), 1.0)
    wrong = SCALE**2 * j + tau**2 * (np.eye(SCHOOLS) - j / SCHOOLS)
    right = SCALE**2 * j + tau**2 * np.eye(SCHOOLS)
    made = wrong + tau**2 / SCHOOLS * j
    np.testing.assert_allclose(made, right, rtol=1e-12)
    assert np.abs(wrong - right).max() > 10


def schools_c(width, q_, gradient_, value_, packed_):
    """Genus effects as the founding model samples them, the eight schools in place of a study."""
    packed = carray(packed_, (int(carray(packed_, (1,), np.float64)[0]),), np.float64)
    q = carray(q_, (width,))
    p, effects = density.parameters(q, packed)
    rows = table_of(packed)
    at_tau = int(rows[int(packed[at.H_GENUS]), at.SD])
    gradient, d_effects, value = np.zeros(width), np.zeros(effects.shape), 0.0
    for school in range(SCHOOLS):
        gap = (effects[0, school] - EFFECT[school]) / ERROR[school]
        value -= 0.5 * gap * gap
        d_effects[0, school] = -gap / ERROR[school]
    # the code draws tau half-normal; this makes it half-Cauchy
    tau = q[at_tau]
    value += 0.5 * (tau / WIDE) ** 2 - math.log(1 + (tau / SCALE) ** 2)
    gradient[at_tau] += tau / WIDE**2 - 2 * tau / (SCALE**2 + tau**2)
    value += density.simple_priors(q, p, rows, 0, int(packed[at.H_GENUS]), gradient)
    value += density.genus_priors(p, d_effects, packed, gradient)
    value += density.multiplied_priors(q, p, packed, gradient)
    return handed(width, value, gradient, gradient_, value_)


def schools():
    """The code that builds genus effects, with eight schools for genera."""
    priors = Priors().but(founding_hazard=BetweenGenera(0.0, SCALE, WIDE))
    none, known = np.zeros(0, np.int64), np.zeros((len(EFFECTS), SCHOOLS))
    known[0] = 1 / ERROR**2
    names = tuple(f"school {i}" for i in range(SCHOOLS))
    design = ModelDesign((), names, none, none, none, np.zeros((5, 7)), np.zeros((4, 7)), False)
    nothing = Information(known, np.zeros(0), np.zeros(at.STEPS), {}, np.zeros(4))
    target = uncentred(design, priors, nothing, np.zeros(0))
    packed, width = target.packed, target.width
    for name in EFFECTS:
        target.score[target.where[name]] = 0.1  # any will do
    with pytest.MonkeyPatch.context() as patch:  # no machine code of another day
        patch.setattr(callbacks, "cfunc", lambda signature, cache: cfunc(signature))
        q, _ = nuts.sample_nuts(
            schools_c, packed, width, lambda seed: np.random.default_rng(seed).normal(size=width),
            seed=8, draws=4000, tune=1000, accept=0.95, chains=4,
        )  # fmt: skip
    p, effects = density.each(q.reshape(-1, width), packed)
    effects = effects.reshape(*q.shape[:2], len(EFFECTS), SCHOOLS)
    named = p.reshape(q.shape)
    first, last = EFFECTS[0], EFFECTS[-1]
    sd = np.abs(named[..., target.where[f"{first}_sd"].start : target.where[f"{last}_sd"].stop])
    mean = named[..., target.where[f"{first}_mean"].start : target.where[f"{last}_mean"].stop]
    return mean, sd, effects, priors


@pytest.fixture(scope="module")
def sampled():
    return schools()


def error_of(values):
    """Monte Carlo standard error of a mean; values (chain, draw)."""
    from arviz_stats.base import array_stats

    ess = array_stats.ess(values[None], chain_axis=1, draw_axis=2, method="mean")[0]
    assert ess > 400
    return values.std() / math.sqrt(ess)


def test_sampled_schools_agree_with_the_exact_means(sampled):
    _, sd, effects, _ = sampled
    for school, exact in enumerate(EXACT_THETA):
        own = effects[..., 0, school]
        assert abs(own.mean() - exact) < 4 * error_of(own)
    tau = sd[..., 0]
    assert abs(tau.mean() - EXACT_TAU) < 4 * error_of(tau)
    assert abs(tau.mean() - PRINTED_TAU) < 4 * math.hypot(error_of(tau), PRINTED_ERROR)
    # Schools taken one by one, or all as one, are many errors away.
    assert abs(EFFECT[0] - EXACT_THETA[0]) > 40 * error_of(effects[..., 0, 0])


def not_yet_tried(mean, sd, priors):
    """One fresh school per draw."""
    from cohort.outcomes.parameters import _new_genus

    shape = mean.shape[:2]
    return _new_genus(
        mean.reshape(-1, len(EFFECTS)),
        sd.reshape(-1, len(EFFECTS)),
        SCHOOLS,
        priors,
        np.random.default_rng(9),
        np.ones(len(EFFECTS)),
    )[:, 0].reshape(shape)


def test_a_school_not_yet_tried_has_the_mean_of_all_schools(sampled):
    """The mean over all genera is not sampled; the part that draws a new genus brings it back."""
    mean, sd, _, priors = sampled
    fresh = not_yet_tried(mean, sd, priors)
    assert abs(fresh.mean() - EXACT_MU) < 4 * error_of(fresh)
    assert abs(fresh.mean() - PRINTED_MU) < 4 * math.hypot(error_of(fresh), PRINTED_ERROR)
    assert fresh.std() > mean[..., 0].std()


def test_new_genus_given_the_mean_is_normal_with_known_moments():
    """By hand: mean of G genera m, prior N(mu0, s0^2), spread t: precision-weighted."""
    from cohort.outcomes.parameters import _new_genus

    n, many = len(EFFECTS), 40_000
    own = Priors()
    mu0, s0 = own.column("mean"), own.column("sd")
    m, t, count = mu0 + 0.7, np.full(n, 0.6), 3
    fresh = _new_genus(
        np.tile(m, (many, 1)), np.tile(t, (many, 1)), count, own, np.random.default_rng(2),
        np.ones(n),
    )  # fmt: skip
    precision = 1 / s0**2 + count / t**2
    centre = (mu0 / s0**2 + m * count / t**2) / precision
    spread = np.sqrt(1 / precision + t**2)
    z = (fresh.mean(axis=0) - centre) / (spread / math.sqrt(many))
    assert np.abs(z).max() < 4
    np.testing.assert_allclose(fresh.std(axis=0), spread, rtol=0.02)
    # a wrong reading: the new genus around the mean of the study's, its prior forgotten
    assert np.abs((m - centre) / (spread / math.sqrt(many))).max() > norm.isf(1e-9)
