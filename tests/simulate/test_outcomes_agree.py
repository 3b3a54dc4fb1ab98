"""Every printed outcome of the recursion against the event simulator, at fixed parameters.

The two share no formula: the simulator draws each queen's fate from the hazards. A row agrees
within four Monte Carlo standard errors and the .003 (chances; .3 day) that the two-day grid and
seven frailty nodes are allowed. Left out of the recursion, either of theta and the fertile share
breaks the agreement.
"""

import dataclasses
import math

import pandas as pd
import pytest

from cohort.outcomes.known import known_draws
from cohort.outcomes.quantities import outcomes
from cohort.simulate.known import beside, known_outcomes
from cohort.simulate.truth import GenusTruth, Truth
from cohort.terms.questions import QUANTITIES

HORIZON, SIZES = 160, (1, 2, 3, 5)
COMMON = {
    "founding_steps": (0.5, 0.2, 0.0, -0.2, -0.3),
    "worker_steps": (0.0, 0.4, -0.2, -0.5),
    "spread": 0.15,
    "frailty": 0.6,
    "doubling": 0.2,
    "rivalry_doubling": -0.7,
    "multi_time": -0.08,
    "mated": 0.8,
}
TRUTH = Truth(
    {
        "Lasius": GenusTruth(
            log_hazard=math.log(0.004), together=-0.4, log_hazard_workers=math.log(0.002),
            rivalry=2.0, last_fight=0.3, log_median_day=math.log(42.0), **COMMON,
        ),
        "Messor": GenusTruth(
            log_hazard=math.log(0.003), together=0.8, log_hazard_workers=math.log(0.004),
            rivalry=0.2, last_fight=0.05, log_median_day=math.log(60.0), **COMMON,
        ),
    }
)  # fmt: skip


def as_draws(truth):
    """The truth as two equal draws of the recursion's parameters."""
    return known_draws([truth, truth])


def table_of(draws):
    """Means of the outcomes, with the arms and contrasts of the long table."""
    post = outcomes(draws, SIZES, HORIZON)
    direct = {"hazard_ratio": "ratio", "time_ratio": "ratio", "same_queens_any": "difference",
              "same_queens_count": "difference"}  # fmt: skip
    rows = []
    for (_, name, k, day, reading), values in post.values.items():
        single = k == 1 or name.endswith("from_same_queens")
        arm = direct.get(name, "single" if single else "multi")
        for genus, value in zip(post.kinds, values.mean(axis=0), strict=True):
            unit = "ratio" if name.endswith("_ratio") else "other"
            when = day if math.isfinite(day) else math.nan
            rows.append((name, reading, genus, arm, k, when, value, unit))
    columns = ["quantity", "reading", "genus", "arm", "queens", "day", "mean", "unit"]
    table = pd.DataFrame(rows, columns=columns)
    return table.assign(low=table["mean"], high=table["mean"])


@pytest.fixture(scope="module")
def known():
    return known_outcomes(TRUTH, SIZES, HORIZON, foundings=100_000, seed=5)


def off(table, known):
    """Rows that disagree: error beyond the allowance and four standard errors."""
    rows = beside(table, known)
    coarse = {"queen_days": 0.3, "median_day": 0.2}
    allowed = rows["quantity"].map(coarse).fillna(0.003) * rows["queens"].where(
        rows["quantity"].isin(["expected_left", "colonies_from_same_queens", "same_queens_count"]),
        1,
    )
    return rows, rows[rows["error"].abs() > allowed + 4 * rows["se"]]


def test_readings_differ_where_they_should(known):
    # Fault: two readings that are one and the same, so that agreement proves nothing of either.
    lasting = known[known["quantity"].isin(["chance_per_founding", "chance_lasting"])]
    lasting = lasting[(lasting["day"] == HORIZON) & (lasting["arm"] != "difference")]
    wide = lasting.pivot(index=["genus", "queens"], columns="reading", values="truth")
    one = wide.loc[(slice(None), 1), :]
    assert (one["seen"] == one["alike"]).all()
    assert (one["mated-first"] == one["alike"]).all()
    groups = wide[wide.index.get_level_values("queens") > 1]
    assert (groups["seen"] > groups["alike"] + 0.01).all()
    assert (groups["alike"] > groups["mated-first"] + 0.01).all()


def test_every_outcome_agrees(known):
    rows, wrong = off(table_of(as_draws(TRUTH)), known)
    apart = {quantity.name for quantity in QUANTITIES.values() if not quantity.drawn}
    assert set(rows["quantity"]) == set(known["quantity"]) - apart
    assert len(rows) > 300
    columns = ["quantity", "reading", "genus", "queens", "day", "mean", "truth", "se"]
    assert wrong.empty, wrong[columns]


@pytest.mark.parametrize(
    ("change", "quantity"),
    [
        ({"last_fight": 0.0}, "chance_none_left"),
        ({"mated": 1.0}, "chance_lasting"),
        ({"rivalry": 0.0}, "expected_left"),
        ({"rivalry_doubling": 0.0}, "expected_left"),
        ({"together": 0.0}, "share_alive_before_workers"),
        ({"frailty": 0.0}, "share_alive"),
        ({"multi_time": 0.0}, "median_day"),
    ],
)
def test_a_wrong_recursion_would_be_seen(known, change, quantity):
    wrong = Truth({g: dataclasses.replace(own, **change) for g, own in TRUTH.genera.items()})
    _, seen = off(table_of(as_draws(wrong)), known)
    assert quantity in set(seen["quantity"])
