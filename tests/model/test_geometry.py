"""Coordinates of the sampler: priors they leave alone, the curvature they are chosen for."""

import math

import pymc as pm
import pytest
from scipy.stats import halfnorm, norm

from cohort.model.geometry import signed_sd, standard

POINTS = (-1.0, 0.0, 1.0)


def logs(model, name):
    """Log density at three points of the one variable that is sampled."""
    logp = model.compile_logp(mode="FAST_COMPILE")
    return [float(logp({name: at})) for at in POINTS]


@pytest.mark.parametrize("sd", [0.0, 0.3, -2.0])
@pytest.mark.parametrize("told", [0.0, 0.5, 40.0])
def test_what_is_sampled_has_curvature_one_whatever_the_sd(sd, told):
    # A normal likelihood that tells the effect sd x w with information ``told``. The logs are
    # quadratic, so their second difference is their curvature.
    with pm.Model() as model:
        w = standard("effect", sd, told)
        pm.Potential("seen", -0.5 * told * (sd * w) ** 2)
    low, mid, high = logs(model, "effect_eased")
    assert high - 2 * mid + low == pytest.approx(-1.0)
    with pm.Model() as model:  # seen with three times the information it is not
        w = standard("effect", sd, told)
        pm.Potential("seen", -1.5 * told * (sd * w) ** 2)
    low, mid, high = logs(model, "effect_eased")
    assert (abs(high - 2 * mid + low + 1.0) > 0.05) == (sd != 0 and told > 0)


@pytest.mark.parametrize("told", [0.0, 7.0])
def test_what_an_sd_multiplies_is_standard_normal(told):
    sd = -0.6
    with pm.Model() as model:
        w = standard("effect", sd, told)
    f = model.compile_fn(
        model.replace_rvs_by_values([w])[0], inputs=model.value_vars, mode="FAST_COMPILE"
    )
    low, mid, high = (float(f({"effect_eased": at})) for at in POINTS)
    slope = (high - low) / 2.0  # of the standard normal in what is sampled
    want = [norm.logpdf(w) + math.log(slope) for w in (low, mid, high)]
    assert logs(model, "effect_eased") == pytest.approx(want)
    assert slope == pytest.approx(1.0 / math.sqrt(1.0 + sd**2 * told))


def test_an_sd_without_its_sign_is_half_normal():
    with pm.Model() as model:
        signed_sd("spread", 0.4)
    low, mid, high = logs(model, "spread_signed")
    assert math.log(2) + mid == pytest.approx(halfnorm.logpdf(0.0, scale=0.4))
    assert math.log(math.exp(low) + math.exp(high)) == pytest.approx(
        halfnorm.logpdf(1.0, scale=0.4)
    )
    assert low == pytest.approx(high)
