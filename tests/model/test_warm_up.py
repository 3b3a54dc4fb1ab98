"""What is compiled beforehand is what a fit asks for later: it is called with the same types.

A call with other types would be compiled anew, in the middle of a comparison. What the compiler
sees is caught where kernels are called, once by the warm-up and once by the checks of a fit.
"""

import numba
import numpy as np
import pytest
import xarray as xr
from by_rows import Rates
from scenes import history_of, lived

import cohort
from cohort.likelihood import study
from cohort.likelihood.exposure import packed
from cohort.model import looks_of_founding, replicated
from cohort.model.pointwise import pointwise
from cohort.model.prior_draws import named_prior
from cohort.model.priors import Priors
from cohort.model.sample import prepare
from cohort.model.warm_up import warm_checks, warm_likelihood
from cohort.predict import posterior_predictive as replication


@pytest.fixture(scope="module")
def past():
    rates = Rates(level1=0.006, level2=0.004, tau=0.15, phi=0.9, sigma=0.5)
    days = np.arange(7, 161, 7)
    sets = lived(3, 1, rates, days, 1) + lived(3, 3, rates, days, 2)
    return history_of(sets, more={f"F{i}": {"genus": "A"} for i in range(6)})


@pytest.fixture(scope="module")
def fit(past):
    """A fit without fitting: draws of the priors."""
    design, _ = prepare(past)
    chains = [named_prior(design, Priors(), seed=seed, draws=4) for seed in (1, 2)]
    one = xr.concat([c.drop_vars("chain") for c in chains], "chain").assign_coords(chain=[0, 1])
    return cohort.Fit.from_draws(past, one)


def kinds(values):
    """Types of some arguments, as the compiler tells them apart."""
    return tuple(
        str(numba.typeof(value)) if isinstance(value, np.ndarray | float) else type(value).__name__
        for value in values
    )


def spied(monkeypatch, module, name, caught):
    plain = getattr(module, name)

    def spy(*given):
        caught.append(kinds(given))
        return plain(*given)

    monkeypatch.setattr(module, name, spy)


def test_the_likelihood_is_at_hand_for_a_fit(past, fit, monkeypatch):
    caught = []
    plain = study.in_parallel

    def spy(fill, count, *given):
        caught.append((fill, kinds(given)))
        return plain(fill, count, *given)

    monkeypatch.setattr(study, "in_parallel", spy)
    warm_likelihood(packed(past))
    pointwise(fit)
    warmed, asked = caught
    assert warmed == asked
    # and other types are told apart
    narrow = [a.astype(np.float32) for a in (np.zeros((1, 6, 9)), np.zeros((1, 16)))]
    given = fit.exposure.records, fit.exposure.rows, fit.exposure.nodes
    assert kinds([*narrow, *given]) != warmed[1][:5]


def test_the_checks_are_at_hand_for_a_fit(past, fit, monkeypatch):
    caught = []
    for module in (replication, replicated, looks_of_founding):
        spied(monkeypatch, module, "posterior_predictive", caught)
    warm_checks(past)
    list(replicated.replicates(fit, replicated.calendar(past)[0], seed=1, draws=8))
    warmed, asked = caught
    assert warmed == asked
    assert {"Calendar", "Generator"} <= set(warmed)


def test_a_calendar_is_of_the_same_types_for_every_study(past):
    """What the checks hand to the compiler of a calendar is the same for another study."""
    other, _ = replicated.calendar(history_of([(1, ((7.0, 1, 0), (14.0, 0, 0)))]))
    mine, _ = replicated.calendar(past)
    assert kinds(vars(mine).values()) == kinds(vars(other).values())
