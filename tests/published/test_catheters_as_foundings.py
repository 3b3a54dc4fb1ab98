"""The kidney catheters (see test_frailty_published) written as a study: patients as foundings.

Two catheters are two queens, an infection is a loss found on its day, a catheter removed is a
queen taken out. The whole way from looks to the likelihood with its frailty integrated out must
then give what the same data give by a formula of their own: per catheter the chance of an
infection within its day, or of none so far, averaged over a normal shift shared by the patient.
"""

import math
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from small_study import small_study

from cohort.history import history
from cohort.likelihood import layout as at
from cohort.likelihood.exposure import overlap, packed
from cohort.likelihood.study import marginal_loglik

DATA = Path(__file__).parent / "data"
STEPS = (0.3, -0.2, 0.0, 0.4, -0.5)
LOG_HAZARD, SEX = -4.2, -0.9


@pytest.fixture(scope="module")
def kidney():
    return pd.read_csv(DATA / "frailty_kidney.csv", comment="#")


def as_study(kidney):
    lines, events = {}, []
    for patient, own in kidney.groupby("patient"):
        name = f"P{patient:02d}"
        looks = sorted({d for t in own["days"] for d in (t - 1, t) if d > 0})
        parts, left = [], 2
        for day in looks:
            today = own[own["days"] == day]
            left -= int(today["infected"].sum())
            parts.append(f"{day} {left}/0")
            gone = int((today["infected"] == 0).sum())
            if gone and left:
                events.append((name, day, "queens-out", gone, "given"))
                left -= gone
            if left == 0:
                break
        lines[name] = "2 | " + ", ".join(parts)
    return small_study(lines, events, horizon_days=600)


def by_formula(kidney, sigma):
    """Log chance of each patient's days, the shift averaged over by a fine trapezoid."""
    z = np.linspace(-10, 10, 4001)
    density = np.exp(-0.5 * z**2) / math.sqrt(2 * math.pi) * (z[1] - z[0])
    out = []
    for _, own in kidney.groupby("patient"):
        chance = np.ones_like(z)
        for row in own.itertuples():
            level = np.exp(LOG_HAZARD + SEX * (row.sex == 2) + sigma * z)
            to_day, to_eve = (
                sum(math.exp(s) * d for s, d in zip(STEPS, overlap(0, t, at.CUTS1), strict=True))
                for t in (row.days, row.days - 1)
            )
            lived = np.exp(-level * to_day)
            chance *= np.exp(-level * to_eve) - lived if row.infected else lived
        out.append(math.log((density * chance).sum()))
    return np.array(out)


def unordered(kidney):
    """Log of 2 where one of two was lost: the count does not say which catheter it was."""
    out = []
    for _, own in kidney.groupby("patient"):
        first = own.sort_values(["days", "infected"], ascending=[True, False]).iloc[0]
        both = own["days"].nunique() == 1 and own["infected"].all()
        out.append(math.log(2) if first["infected"] and not both else 0.0)
    return np.array(out)


@pytest.mark.parametrize("sigma", [0.0, 0.526632, 1.5])
def test_patients_as_foundings_have_the_chance_of_their_days(kidney, sigma):
    past = history(as_study(kidney))
    exposure = packed(past)
    assert len(exposure.foundings) == 38
    women = kidney.groupby("patient")["sex"].first().to_numpy() == 2
    par = np.zeros((38, at.FOUNDING_WIDTH))
    par[:, at.HAZARD1] = LOG_HAZARD + SEX * women
    shared = np.zeros(at.SHARED_WIDTH)
    shared[at.STEPS1 : at.STEPS1 + at.N1] = STEPS
    shared[at.WITHIN_DAYS], shared[at.SIGMA], shared[at.LOADING] = 1.0, sigma, 1.0
    tables = exposure.records, exposure.rows, exposure.nodes
    ours = marginal_loglik(par[None], shared[None], *tables)[0]
    expected = by_formula(kidney, sigma) + unordered(kidney)
    np.testing.assert_allclose(ours, expected, atol=1e-4 if sigma else 1e-9)
    if sigma:  # catheters taken for patients of their own would be told apart
        alone = by_formula(kidney, 0.0) + unordered(kidney)
        assert np.abs(ours - alone).max() > 0.1
