"""How much of a number is a kind's own, where that is known: nothing, hardly anything, nearly all.

Two kinds with 120 foundings of each way, one with 3, and one whose foundings were all given away
the day after they were begun: it stands in the study and says nothing.
"""

import numpy as np
import pytest
from by_rows import Rates
from scenes import history_of, lived

from cohort.model.asked import fit
from cohort.model.priors import Priors
from cohort.nonparametric.counts import derived
from cohort.nonparametric.followed import kind_days
from cohort.outcomes import comparisons, outcomes, posterior_draws, prior_draws

pytestmark = pytest.mark.slow

MANY, FEW = 120, 3
DAYS = np.arange(7, 162, 7)


@pytest.fixture(scope="module")
def table():
    rates = Rates(level1=0.006, level2=0.004, ratio1=1.3, tau=0.15, phi=0.85, sigma=0.5)
    other = rates.but(level1=0.003, ratio1=0.7)
    sets, genus = [], []
    for name, count, own, seed in (
        ("Lasius", MANY, rates, 1), ("Messor", MANY, other, 2), ("Formica", FEW, other, 3)
    ):  # fmt: skip
        sets += lived(count, 1, own, DAYS, seed) + lived(count, 3, own, DAYS, seed + 10)
        genus += 2 * count * [name]
    sets += [(k, ((1.0, k, 0),)) for k in 4 * (1, 3)]
    genus += 8 * ["Camponotus"]
    past = history_of(sets, more={f"F{i}": {"genus": g} for i, g in enumerate(genus)})
    found = fit(past, seed=5)
    drawn = posterior_draws(found.posterior, found.design, found.priors, seed=5)
    prior = prior_draws(found.design, Priors(), seed=6)
    frame = derived(past)
    assert kind_days(past.foundings, 160) == {"Camponotus": 1, "Formica": 0, "Lasius": 160,
                                              "Messor": 160}  # fmt: skip
    both = (outcomes(d, (1, 3), 160) for d in (drawn, prior))
    return comparisons(*both, frame[frame["compared"]])


def shares(table, genus):
    rows = table[(table["genus"] == genus) & (table["reading"] == "seen") & (table["day"] == 160)]
    rows = rows[rows["quantity"].isin(["chance_per_founding", "same_queens_any"])]
    return rows.loc[rows["arm"] != "difference", "own_share"], rows["own_share"]


def test_many_foundings_speak_for_themselves(table):
    for genus in ("Lasius", "Messor"):
        assert (shares(table, genus)[0] > 0.8).all()


def test_a_kind_without_data_borrows_all(table):
    assert (shares(table, "Camponotus")[1] < 0.15).all()


def test_few_foundings_lie_between(table):
    few, many = (shares(table, g)[0].mean() for g in ("Formica", "Lasius"))
    assert 0.1 < few < many - 0.1
