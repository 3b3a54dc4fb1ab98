"""Priors at half and at double strength, by weights and by scaled priors."""

from __future__ import annotations

import math

import numpy as np
import pytest
import xarray as xr
from scipy import stats

from cohort.base.errors import StudyError
from cohort.model.design import ModelDesign
from cohort.model.families import Beta, BetweenGenera, CutNormal, HalfNormal, LogNormal, Normal
from cohort.model.priors import EFFECTS, Priors, draw
from cohort.model.reweighted import GOOD_K, POWERS, smoothed, weights
from cohort.model.sensitivity import log_priors

DRAWS = 8000
GENERA = 3


@pytest.mark.parametrize("power", POWERS.values())
@pytest.mark.parametrize(
    ("prior", "x"),
    [
        (Normal(0.5, 0.8), np.linspace(-3, 3, 13)),
        (HalfNormal(0.7), np.linspace(0.01, 3, 13)),
        (Beta(6.0, 1.5), np.linspace(0.05, 0.95, 13)),
    ],
)
def test_a_scaled_prior_is_the_power_of_its_density(
    power: float, prior: Normal | HalfNormal | Beta, x: np.ndarray
) -> None:
    apart = prior.at_strength(power).logpdf(x) - power * prior.logpdf(x)
    assert np.ptp(apart) < 1e-9
    assert np.ptp(prior.at_strength(power).logpdf(x) - prior.logpdf(x)) > 0.1


def test_a_log_normal_is_scaled_on_the_log() -> None:
    prior, logs = LogNormal(-1.9, 0.6), np.linspace(-4, 1, 11)
    scaled = prior.at_strength(2.0)
    # of the log: density of x times x
    assert np.ptp(scaled.logpdf(np.exp(logs)) + logs - 2 * (prior.logpdf(np.exp(logs)) + logs)) < (
        1e-9
    )
    assert (scaled.mean, scaled.sd) == (-1.9, pytest.approx(0.6 / math.sqrt(2)))


def test_a_cut_off_normal_keeps_its_limits() -> None:
    prior, x = CutNormal(12.0, 3.0), np.linspace(5.0, 19.0, 9)
    apart = prior.at_strength(0.5).between(x, 4.0, 20.0) - 0.5 * prior.between(x, 4.0, 20.0)
    assert np.ptp(apart) < 1e-9


def test_every_prior_of_the_table_can_be_scaled() -> None:
    plain, half = Priors(), Priors().at_strength(0.5)
    assert half.by_name.keys() == plain.by_name.keys()
    old, new = plain["rivalry"], half["rivalry"]
    assert isinstance(new, BetweenGenera)
    assert (new.mean, new.sd, new.between) == pytest.approx(
        (old.mean, old.sd * math.sqrt(2), old.between * math.sqrt(2))
    )
    assert plain.at_strength(1.0) == plain
    with pytest.raises(StudyError, match="must be above 0"):
        Priors().but(mated={"b": 0.4}).at_strength(2.0)


def exact(prior_sd: float, n: int, mean: float) -> tuple[float, float]:
    """Posterior of a normal mean by hand: precision n + 1 / s^2, mean n ybar over it; SD 1."""
    precision = n + 1 / prior_sd**2
    return n * mean / precision, 1 / math.sqrt(precision)


@pytest.mark.parametrize("power", POWERS.values())
def test_weights_give_the_posterior_worked_out_by_hand(power: float) -> None:
    # prior N(0, .5), four observations of mean .6, SD 1: chance that the mean is above 0
    m, s = exact(0.5, 4, 0.6)
    # evenly spaced draws of the posterior, so that the error is that of the weights alone
    mu = m + s * stats.norm.ppf((np.arange(DRAWS) + 0.5) / DRAWS)
    prior = Normal(0.0, 0.5)
    found = smoothed(prior.at_strength(power).logpdf(mu) - prior.logpdf(mu))
    m2, s2 = exact(0.5 / math.sqrt(power), 4, 0.6)
    wanted = float(stats.norm.cdf(m2 / s2))
    assert found.each @ (mu > 0) == pytest.approx(wanted, abs=0.004)
    assert found.reliable
    # by hand: s = 1/sqrt(8), m = .3, chance Phi(.849) = .8019; half Phi(.980), double Phi(.693)
    assert wanted == pytest.approx({0.5: 0.8365, 2.0: 0.7558}[power], abs=1e-4)
    plain = float((mu > 0).mean())
    assert plain == pytest.approx(0.8019, abs=2e-4)
    # the sign of the log ratio matters: turned round, half is taken for double
    wrong = smoothed(prior.logpdf(mu) - prior.at_strength(power).logpdf(mu))
    assert abs(wrong.each @ (mu > 0) - wanted) > 0.03


def test_a_prior_far_from_the_data_has_weights_that_are_not_relied_on() -> None:
    # prior N(0, .1) against a posterior that a wide one would put at 3: half strength reaches
    # where no draw is
    m, s = exact(0.1, 25, 3.0)
    mu = np.random.default_rng(3).normal(m, s, 1000)
    prior = Normal(0.0, 0.1)
    found = smoothed(prior.at_strength(0.05).logpdf(mu) - prior.logpdf(mu))
    assert found.pareto_k > GOOD_K
    assert not found.reliable
    assert found.effective < 100


def test_weights_that_are_all_alike_change_nothing() -> None:
    found = smoothed(np.zeros(500))
    np.testing.assert_allclose(found.each, 1 / 500)
    assert found.reliable
    assert found.effective == pytest.approx(500)


def design() -> ModelDesign:
    zero = np.zeros(1, np.int64)
    steps = np.zeros((5, 7)), np.zeros((4, 7))
    return ModelDesign(("f",), tuple("ABC"), zero, zero + 1, zero, *steps, pooled_fight=False)


def as_draws(priors: Priors, seed: int) -> xr.Dataset:
    """Draws of the priors as those of a posterior without data."""
    drawn = draw(priors, GENERA, DRAWS, np.random.default_rng(seed))
    out: dict[str, object] = {}
    for i, name in enumerate(EFFECTS):
        out[f"{name}_mean"] = (("chain", "draw"), drawn["genus_mean"][None, :, i])
        out[f"{name}_sd"] = (("chain", "draw"), drawn["genus_sd"][None, :, i])
    out["mated"] = (("chain", "draw"), drawn["mated"][None])
    return xr.Dataset(out, coords={"chain": [0], "draw": range(DRAWS)})


def test_weighted_draws_are_those_of_the_scaled_priors() -> None:
    # Without data the posterior is the prior, so weighted draws must be draws of the scaled one:
    # the mean of the study's genera too, whose own mean is integrated out.
    plain = Priors()
    posterior = as_draws(plain, 1)
    scaled = as_draws(plain.at_strength(2.0), 2)
    ratio = log_priors(posterior, design(), plain.at_strength(2.0)) - log_priors(
        posterior, design(), plain
    )
    found = smoothed(ratio["last_fight"].to_numpy().ravel())

    def sds(data: xr.Dataset, each: np.ndarray | None) -> list[float]:
        out = []
        for name in ("last_fight_mean", "last_fight_sd"):
            x = data[name].to_numpy().ravel()
            centre = np.average(x, weights=each)
            out.append(math.sqrt(np.average((x - centre) ** 2, weights=each)))
        return out

    assert sds(posterior, found.each) == pytest.approx(sds(scaled, None), rel=0.04)
    # the power of the integrated density is another prior, with another SD
    naive = smoothed(log_priors(posterior, design(), plain)["last_fight"].to_numpy().ravel())
    assert abs(sds(posterior, naive.each)[0] / sds(scaled, None)[0] - 1) > 0.06


def test_weights_put_all_priors_together() -> None:
    posterior = as_draws(Priors(), 4)
    found = weights(posterior, design(), Priors(), 2.0)
    assert found.each.sum() == pytest.approx(1.0)
    wanted = Priors().at_strength(2.0)
    for name in ("together", "first_worker"):
        x = posterior[f"{name}_mean"].to_numpy().ravel()
        half = posterior[f"{name}_sd"].to_numpy().ravel()
        own = np.average(half**2, weights=found.each)
        assert own == pytest.approx(wanted[name].between ** 2, rel=0.25)
        spread = wanted[name].sd ** 2 + own / GENERA
        assert np.average((x - wanted[name].mean) ** 2, weights=found.each) == pytest.approx(
            spread, rel=0.25
        )
    assert weights(posterior, design(), Priors(), 1.0).effective == pytest.approx(DRAWS)
