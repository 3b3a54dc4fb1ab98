"""Piecewise constant hazards: published fits through our exposure and our likelihood.

Marks: M, the printed figure is from memory and agrees with a recomputation.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from kernel_tables import loglik
from scipy.optimize import minimize
from scipy.special import xlogy

from cohort.likelihood import layout as at
from cohort.likelihood.exposure import overlap

DATA = Path(__file__).parent / "data"
CLOSE = 1e-6


def highest(fitted, start):
    """Maximum of a function that gives (value, slopes)."""
    result = minimize(
        lambda v: tuple(-np.asarray(part) for part in fitted(v)),
        start,
        jac=True,
        method="BFGS",
        options={"gtol": 1e-7, "maxiter": 500},
    )
    return result.x, -float(result.fun)


def test_colombian_children_piecewise_exponential_is_poisson():
    """Each cell of the table is a founding of its own level; slopes are the kernel's."""
    # Rodriguez, Generalized Linear Models, 7.5: deviance 6.18 on 12 degrees of freedom (M)
    own = pd.read_csv(DATA / "poisson_somoza.csv", comment="#")
    ages = pd.factorize(own["age"])[0]
    cohorts = pd.factorize(own["cohort"])[0]
    x = np.column_stack([np.eye(7)[ages], np.eye(3)[cohorts][:, 1:]])
    years, deaths = own["years"].to_numpy()[:, None], own["deaths"].to_numpy()[:, None]

    def fitted(v):
        value, gradient, _ = loglik(x @ v, years, deaths)
        return value, x.T @ gradient

    found, best = highest(fitted, [-1.0, -2, -3, -3, -3, -5, -6, 0, 0])
    np.testing.assert_allclose(found[7:], [-0.324257466, -0.478414799], rtol=1e-5)
    full = (xlogy(deaths, deaths / years) - deaths).sum()
    assert 2 * (full - best) == pytest.approx(6.182014839, rel=CLOSE)
    # Children counted at risk to the end of their interval would tell another story.
    wrong, _ = highest(lambda v: fitted_to(x, years * (1 + 0.1 * ages[:, None]), deaths, v), found)
    assert abs(wrong[0] - found[0]) < 1e-3 < abs(wrong[5] - found[5])


def fitted_to(x, years, deaths, v):
    value, gradient, _ = loglik(x @ v, years, deaths)
    return value, x.T @ gradient


def test_colombian_children_by_the_pieces_of_a_founding():
    """Five ages as the five pieces that all foundings share, a cohort a founding: the same fit."""
    import statsmodels.api as sm

    own = pd.read_csv(DATA / "poisson_somoza.csv", comment="#")
    own = own[~own["age"].isin(["2-5 years", "5-10 years"])]
    years = own["years"].to_numpy().reshape(3, 5)
    deaths = own["deaths"].to_numpy().reshape(3, 5)

    def fitted(v):
        steps = np.array([v[3], v[4], 0.0, v[5], v[6]])
        value, in_level, in_steps = loglik(v[:3], years, deaths, steps=steps)
        return value, np.concatenate([in_level, np.delete(in_steps, at.LEVEL1)])

    found, _ = highest(fitted, np.zeros(7) - [3, 3, 3, 0, 0, 0, 0])
    x = np.column_stack([np.kron(np.eye(3), np.ones((5, 1))), np.tile(np.eye(5), (3, 1))])
    x = np.delete(x, 3 + at.LEVEL1, axis=1)
    poisson = sm.GLM(
        deaths.ravel(), x, family=sm.families.Poisson(), offset=np.log(years.ravel())
    ).fit(tol=1e-12)
    np.testing.assert_allclose(found, poisson.params, rtol=1e-5)


@pytest.fixture(scope="module")
def leukaemia():
    return pd.read_csv(DATA / "curves_leukaemia.csv", comment="#")


def breslow(own, spread):
    """Log hazard ratio with a free hazard between every two weeks that have a relapse."""
    weeks = np.unique(own["time"][own["relapse"] == 1]).astype(float)
    cuts = [0.0, *weeks.tolist()]
    control = (own["treat"] == "control").to_numpy(float)
    days = np.array([overlap(0.0, float(t), cuts) for t in own["time"]])[:, :-1]
    if not spread:  # who leaves within a piece counts in none of it, as in Breslow's risk sets
        days = np.where(days >= np.diff(cuts) - 1e-9, days, 0.0)
    when = own["time"].to_numpy()[:, None] == weeks
    seen = when & (own["relapse"].to_numpy()[:, None] == 1)
    # One founding per piece and treatment: its exposure, its relapses.
    exposure = np.array([[days[control == c].sum(axis=0) for c in (0, 1)]]).reshape(-1, 1)
    events = np.array([[seen[control == c].sum(axis=0) for c in (0, 1)]]).reshape(-1, 1)
    used = exposure[:, 0] > 0
    x = np.column_stack([np.repeat([0.0, 1.0], len(weeks)), np.tile(np.eye(len(weeks)), (2, 1))])[
        used
    ]

    def fitted(v):
        value, gradient, _ = loglik(x @ v, exposure[used], events[used])
        return value, x.T @ gradient

    start = np.concatenate([[1.0], np.full(len(weeks), -3.0)])
    return highest(fitted, start)[0][0]


def test_remission_breslow_hazard_ratio_from_exposure_by_piece(leukaemia):
    # 1.509 by Breslow's way with ties (M: Kalbfleisch and Prentice)
    assert breslow(leukaemia, False) == pytest.approx(1.509191413, rel=1e-5)
    # Weeks lived into a piece and then censored are exposure too: another, near, likelihood.
    assert 1e-4 < abs(breslow(leukaemia, True) - 1.509191413) < 0.02


@pytest.mark.parametrize(
    ("ties", "value"),
    [
        ("breslow", 1.509191413),  # 1.509 (M: Kalbfleisch and Prentice)
        ("efron", 1.572125149),  # 1.572 (M, same)
    ],
)
def test_remission_hazard_ratio_of_the_library_the_tests_compare_with(leukaemia, ties, value):
    # No part of ours fits by partial likelihood; this says that the yardstick is true.
    from statsmodels.duration.hazard_regression import PHReg

    control = (leukaemia["treat"] == "control").to_numpy(float)[:, None]
    fit = PHReg(leukaemia["time"], control, status=leukaemia["relapse"], ties=ties).fit()
    assert fit.params[0] == pytest.approx(value, rel=CLOSE)
