"""A rehearsal compiles what is asked for later: the same types, and on nothing it does nothing."""

import numpy as np
from by_rows import Rates
from scenes import history_of, lived

from cohort.likelihood import layout as at
from cohort.likelihood import study
from cohort.likelihood.exposure import packed
from cohort.model.replicated import calendar
from cohort.model.warm_up import warm_checks, warm_likelihood
from cohort.predict import posterior_predictive as replication


def history():
    rates = Rates(level1=0.006, level2=0.004, tau=0.15, phi=0.9, sigma=0.5)
    days = np.arange(7, 161, 7)
    sets = lived(3, 1, rates, days, 1) + lived(3, 3, rates, days, 2)
    return history_of(sets, more={f"F{i}": {"genus": "A"} for i in range(6)})


def one_draw(foundings):
    par = np.full((1, foundings, at.FOUNDING_WIDTH), 0.5)
    return par, np.full((1, at.SHARED_WIDTH), 0.3)


def types_of(function):
    """Types it was compiled for; without the compiler it takes any, in one way."""
    return getattr(function, "signatures", [()])


def test_the_likelihood_is_at_hand_for_a_fit():
    exposure = packed(history())
    warm_likelihood(exposure)
    assert len(types_of(study._marginal)) == 1
    given = exposure.records, exposure.rows, exposure.nodes
    study.marginal_loglik(*one_draw(6), *given)
    assert len(types_of(study._marginal)) == 1  # another type would have been compiled anew


def test_the_checks_are_at_hand_for_a_fit():
    past = history()
    warm_checks(past)
    assert len(types_of(replication._posterior_predictive)) == 1
    replication.posterior_predictive(*one_draw(6), calendar(past)[0], np.random.default_rng(1))
    assert len(types_of(replication._posterior_predictive)) == 1
