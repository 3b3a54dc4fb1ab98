"""Eight schools through our own partial pooling: mean of the groups plus deviations summing to 0.

Rubin (1981, doi:10.3102/10769986006004377), data and model (mu normal with SD 5, tau half-Cauchy
with scale 5) as in posteriordb, which prints mu 4.4105 (Monte Carlo error .033) and tau 3.6021 (R).
The targets are exact integrals. What is sampled is `cohort.prove.schools`, as `cohort prove` does.
"""

import dataclasses
import math

import numpy as np
import pytest
from scipy.stats import multivariate_normal, norm

from cohort.likelihood import density
from cohort.likelihood.callbacks import value_and_gradient
from cohort.model.parameters import EFFECTS
from cohort.model.priors import Priors
from cohort.prove import schools as ours
from cohort.prove.schools import EFFECT, ERROR, SCALE, SCHOOLS, error_of, not_yet_tried

EXACT_MU, EXACT_TAU = 4.396820714, 3.597705484
PRINTED_MU, PRINTED_ERROR, PRINTED_TAU = 4.4105, 0.033, 3.6021
"""Posteriordb, 10,000 draws; no error of tau was recorded, its SD of 3.2 gives the same."""
EXACT_THETA = [
    6.211884, 4.940178, 3.927004, 4.757098, 3.615477, 4.042613, 6.296724, 4.854253
]  # fmt: skip


def schools():
    """The eight schools, sampled."""
    return ours.sampled(8)


@pytest.fixture(scope="module")
def sampled():
    return schools()


def test_the_integral_of_the_proof_gives_the_exact_means():
    mu, tau, theta = ours.exact()
    assert mu == pytest.approx(EXACT_MU, rel=1e-6)
    assert tau == pytest.approx(EXACT_TAU, rel=1e-6)
    np.testing.assert_allclose(theta, EXACT_THETA, rtol=1e-6)


# --- the density that is sampled ------------------------------------------------------------------


def at(q, target):
    """At a vector: log posterior of the sampler's code, effects of the schools, tau, and p."""
    value, _ = value_and_gradient(ours.schools_c, q, target.packed)
    p, effects = density.each(q[None], target.packed)
    tau = abs(p[0, target.where[f"{EFFECTS[0]}_sd"].start])
    return value, effects.reshape(len(EFFECTS), SCHOOLS)[0], tau, p[0]


def closed(theta, tau, *, mean_spreads=True):
    """Log density of effects and data by the textbook: eight draws around a mu, given tau.

    Without the deviations' share in the variance of the mean it is another prior.
    """
    ones = np.ones((SCHOOLS, SCHOOLS))
    cover = SCALE**2 * ones + tau**2 * np.eye(SCHOOLS)
    if not mean_spreads:
        cover = cover - tau**2 / SCHOOLS * ones + 1e-9 * np.eye(SCHOOLS)
    own = multivariate_normal(np.zeros(SCHOOLS), cover).logpdf(theta)
    return own + norm.logpdf(EFFECT, theta, ERROR).sum()


@pytest.mark.parametrize("seed", range(4))
def test_the_code_for_genera_has_the_density_of_eight_draws_around_a_mean(seed):
    """Given tau, effects are a straight function of the vector: only a constant may differ."""
    target, _ = ours.posterior()
    rng = np.random.default_rng(seed)
    q, name = rng.normal(size=target.width), EFFECTS[0]
    q[target.where[f"{name}_sd"]] = 12.0  # where the share of the deviations is no trifle
    value, theta, tau, p = at(q, target)
    moved = q.copy()
    for part in (target.where[name], target.where[f"{name}_mean"]):
        moved[part] = 3 * rng.normal(size=part.stop - part.start)
    # coordinates of other means that lean on this one are led back to where they were
    moved += np.where(at(moved, target)[3] != p, p - at(moved, target)[3], 0.0) * others(target)
    after, theta_after, tau_after, p_after = at(moved, target)
    assert tau_after == pytest.approx(tau, rel=1e-12)
    np.testing.assert_allclose(p_after[others(target)], p[others(target)], atol=1e-12)
    assert np.abs(theta_after - theta).max() > 0.5
    wanted = closed(theta_after, tau) - closed(theta, tau)
    assert after - value == pytest.approx(wanted, abs=1e-7)
    forgotten = closed(theta_after, tau, mean_spreads=False)
    forgotten -= closed(theta, tau, mean_spreads=False)
    assert abs(after - value - forgotten) > 1e-4


def others(target):
    """Coordinates that are no effect and no mean of the schools."""
    out = np.ones(target.width, bool)
    out[target.where[EFFECTS[0]]] = out[target.where[f"{EFFECTS[0]}_mean"]] = False
    return out


# --- what is sampled ------------------------------------------------------------------------------


def test_sampled_schools_agree_with_the_exact_means(sampled):
    for school, exact in enumerate(EXACT_THETA):
        own = sampled.effects[..., 0, school]
        assert abs(own.mean() - exact) < 4 * error_of(own)
    tau = sampled.sd[..., 0]
    assert abs(tau.mean() - EXACT_TAU) < 4 * error_of(tau)
    assert abs(tau.mean() - PRINTED_TAU) < 4 * math.hypot(error_of(tau), PRINTED_ERROR)
    # Schools taken one by one, or all as one, are many errors away.
    assert abs(EFFECT[0] - EXACT_THETA[0]) > 40 * error_of(sampled.effects[..., 0, 0])


def test_the_proof_holds_on_them_and_sees_schools_that_lend_each_other_nothing(sampled):
    assert all(line.holds for line in ours.outside(sampled))
    alone = sampled.effects.copy()
    alone[:, :, 0] += 0.2 * (EFFECT - np.array(EXACT_THETA))  # a fifth of the way back
    lines = ours.outside(dataclasses.replace(sampled, effects=alone))
    assert not all(line.holds for line in lines)


def test_a_school_not_yet_tried_has_the_mean_of_all_schools(sampled):
    """The mean over all genera is not sampled; the part that draws a new genus brings it back."""
    fresh = not_yet_tried(sampled)
    assert abs(fresh.mean() - EXACT_MU) < 4 * error_of(fresh)
    assert abs(fresh.mean() - PRINTED_MU) < 4 * math.hypot(error_of(fresh), PRINTED_ERROR)
    assert fresh.std() > sampled.mean[..., 0].std()


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
