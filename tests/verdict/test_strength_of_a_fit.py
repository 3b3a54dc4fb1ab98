"""Chances of a fit with its priors at other strengths: the right draws get the right weights."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
from by_rows import Rates
from scenes import history_of, lived

from cohort.model.priors import Priors
from cohort.model.reweighted import weights
from cohort.model.sample import prepare, sample
from cohort.outcomes import outcomes, posterior_draws
from cohort.outcomes.parameters import THINNED, thin
from cohort.terms.questions import QUANTITIES
from cohort.verdict import lot, strength

HORIZON = 120
NONE = pd.DataFrame(columns=["quantity", "genus", "queens", "half", "double"])


@pytest.fixture(scope="module")
def fitted():
    rates = Rates(level1=0.006, level2=0.004, tau=0.15, phi=0.9, sigma=0.5)
    days = np.arange(7, 121, 7)
    sets = lived(8, 1, rates, days, 1) + lived(8, 2, rates, days, 2)
    genus = ["Lasius", "Messor"] * 8
    more = {f"F{i}": {"genus": g, "assigned": "random"} for i, g in enumerate(genus)}
    past = history_of(sets, more=more)
    design, exposure = prepare(past)
    # more draws than outcomes take, so that they are thinned
    fit = sample(design, exposure, Priors(), seed=5, draws=600)
    drawn = posterior_draws(fit.posterior, design, fit.priors, seed=5)
    return past, fit, outcomes(drawn, (1, 2), HORIZON)


def test_weights_go_to_the_draws_that_the_outcomes_were_computed_from(fitted, monkeypatch) -> None:
    _, fit, post = fitted
    monkeypatch.setattr("cohort.model.reweighted.GOOD_K", math.inf)  # so few foundings tell little
    found = strength.strengths(fit, post, HORIZON, aside=NONE)
    small = thin(fit.posterior)
    log_ratio = small["together_mean"].transpose("chain", "draw").to_numpy().ravel()
    for name, power in (("half", 0.5), ("double", 2.0)):
        assert found[name].how == strength.WEIGHTS
        each = weights(small, fit.design, fit.priors, power).each
        # the average hazard ratio of pairs is exp(mean of the genera's log ratios); lower is better
        by_hand = each @ (log_ratio < 0)
        place = ("hazard_ratio", "average", 2, strength.UNDATED, "")
        assert found[name].chances[place] == pytest.approx(by_hand, abs=1e-12)
        in_other_order = each @ (log_ratio[::-1] < 0)
        assert abs(in_other_order - by_hand) > 1e-6
    assert found["half"].told()["how"] == "weights"


def test_outcomes_of_more_draws_than_usual_have_weights_of_their_own(fitted, monkeypatch) -> None:
    """As after a further run, whose chains stand beside the first: as many draws of each."""
    _, fit, _ = fitted
    monkeypatch.setattr("cohort.model.reweighted.GOOD_K", math.inf)
    drawn = posterior_draws(fit.posterior, fit.design, fit.priors, seed=5, draws=2 * THINNED)
    post = outcomes(drawn, (1, 2), HORIZON)
    assert len(post.alive) > THINNED
    found = strength.strengths(fit, post, HORIZON, aside=NONE)
    assert {found[name].how for name in ("half", "double")} == {strength.WEIGHTS}


def test_where_weights_cannot_be_relied_on_the_model_is_fitted_again(fitted, monkeypatch) -> None:
    _, fit, post = fitted
    asked: list[Priors] = []

    def refitted(fit, priors, sizes, horizon, study=None, *, sampler):
        asked.append(priors)
        return None if len(asked) == 1 else post

    monkeypatch.setattr("cohort.model.reweighted.GOOD_K", -math.inf)
    monkeypatch.setattr(strength, "refitted", refitted)
    said: list[str] = []
    found = strength.strengths(fit, post, HORIZON, aside=NONE, say=said.append)
    assert asked == [fit.priors.at_strength(0.5), fit.priors.at_strength(2.0)]
    assert said == [
        "Fitting again with every prior at half strength",
        "Fitting again with every prior at double strength",
    ]
    assert (found["half"].how, found["double"].how) == (strength.FAILED, strength.REFIT)
    assert found["half"].chances.empty
    pd.testing.assert_series_equal(found["double"].chances, strength.chances(post))


def test_a_chance_without_weights_is_that_of_the_long_table(fitted) -> None:
    _, _, post = fitted
    found = strength.chances(post)
    for (quantity, genus, queens, day, reading), chance in found.items():
        if quantity == "same_queens_any":
            key = next(
                k
                for k in post.values
                if (k.quantity, k.size, k.day, k.reading) == (quantity, queens, day, reading)
            )
            assert QUANTITIES[key.question, quantity].better == "higher"
            drawn = post.values[key][:, post.kinds.index(genus)]
            even = 0.5 * (drawn == 0).mean()  # ties count half for each way
            assert chance == pytest.approx((drawn > 0).mean() + even, abs=1e-12)


def test_contrasts_made_apart_bring_their_own_chances(fitted) -> None:
    _, fit, post = fitted
    aside = pd.DataFrame(
        {"quantity": ["workers_after_30_days"], "genus": ["average"], "queens": [2],
         "half": [0.7], "double": [0.8]}
    )  # fmt: skip
    found = strength.strengths(fit, post, HORIZON, aside=aside)
    place = ("workers_after_30_days", "average", 2, strength.UNDATED, "")
    assert (found["half"].chances[place], found["double"].chances[place]) == (0.7, 0.8)


def test_foundings_not_by_lot_are_left_out_of_the_further_fit(fitted, monkeypatch) -> None:
    past, fit, post = fitted
    chosen = past.foundings["founding"].isin(["F0", "F9"])
    assigned = past.foundings["assigned"].where(~chosen, "chosen")
    mixed = type(past)(**(vars(past) | {"foundings": past.foundings.assign(assigned=assigned)}))
    seen = []

    def refitted(fit, priors, sizes, horizon, study):
        seen.append((priors, sizes, horizon, study[0].foundings))
        return post

    monkeypatch.setattr(lot, "refitted", refitted)
    assert lot.alone(mixed, fit, (1, 2), ()) is post
    ((priors, sizes, horizon, foundings),) = seen
    assert (priors, sizes, horizon) == (fit.priors, (1, 2), past.horizon)
    assert set(fit.design.foundings) - set(foundings) == {"F0", "F9"}
    every = past.foundings.assign(assigned="chosen")
    assert lot.alone(type(past)(**(vars(past) | {"foundings": every})), fit, (1, 2), ()) is None
