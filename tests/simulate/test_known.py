"""The table of true outcomes: closed forms by hand, and the rows of a comparison beside it."""

import math

import numpy as np
import pandas as pd
import pytest

from cohort.simulate.known import KEYS, beside, known_outcomes
from cohort.simulate.truth import GenusTruth, Truth
from cohort.terms.questions import QUANTITIES

PLAIN = {"frailty": 0.0, "mated": 1.0, "within_days": 0.0, "multi_days": 0.0}
TRUTH = Truth(
    {
        "Lasius": GenusTruth(
            log_hazard=math.log(0.004), log_hazard_workers=math.log(0.002), together=0.3, **PLAIN
        ),
        "Messor": GenusTruth(
            log_hazard=math.log(0.002), log_hazard_workers=math.log(0.001), together=-0.1, **PLAIN
        ),
    }
)


@pytest.fixture(scope="module")
def known():
    return known_outcomes(TRUTH, [3], 160, foundings=40_000, seed=3)


def pick(known, **key):
    rows = known
    for column, value in key.items():
        rows = rows[rows[column].isna() if value is None else rows[column] == value]
    assert len(rows) == 1, rows
    return rows.iloc[0]


def test_single_colonies_by_hand(known):
    """One mated queen, E = day 50 exactly: exp(-50 h1 - 110 h2)."""
    row = pick(known, quantity="chance_lasting", reading="alike", genus="Lasius", queens=1, day=160)
    alone = math.exp(-0.2 - 0.22)
    assert abs(row["truth"] - alone) < 4 * row["se"]
    any_of_three = pick(
        known, quantity="at_least_one_from_same_queens", reading="seen", genus="Lasius", day=160
    )
    assert any_of_three["arm"] == "single"
    assert abs(any_of_three["truth"] - (1 - (1 - alone) ** 3)) < 4 * any_of_three["se"]
    assert abs(any_of_three["truth"] - alone) > 4 * any_of_three["se"]


def test_contrasts_are_of_the_same_queens(known):
    together = pick(
        known, quantity="chance_lasting", reading="alike", genus="Messor", arm="multi", day=90
    )
    alone = pick(
        known, quantity="chance_lasting", reading="alike", genus="Messor", arm="single", day=90
    )
    count = pick(known, quantity="same_queens_count", reading="alike", genus="Messor", day=90)
    assert count["truth"] == pytest.approx(together["truth"] - 3 * alone["truth"])
    assert count["se"] == pytest.approx(math.hypot(together["se"], 3 * alone["se"]))


def test_average_is_the_mean_and_of_logs_for_ratios(known):
    ratio = pick(known, quantity="hazard_ratio", genus="average", day=None)
    assert ratio["arm"] == "ratio"
    assert ratio["truth"] == pytest.approx(math.exp(0.1))
    own = known[(known["quantity"] == "queen_days") & (known["queens"] == 1)]
    each = own.set_index("genus")["truth"]
    assert each["average"] == pytest.approx((each["Lasius"] + each["Messor"]) / 2)


def test_every_quantity_of_the_contract_is_there_once(known):
    assert set(known["quantity"]) == {name for _, name in QUANTITIES}
    assert not known.duplicated(KEYS).any()
    assert known["truth"].notna().all()


def test_beside_sets_the_truth_by_its_row(known):
    """A made-up comparison: every mean a fifth too high, every range ten percent wide."""
    table = known.assign(mean=known["truth"] * 1.2, low=known["truth"] * 1.1)
    table = table.assign(high=table["truth"] * 1.3, unit="chance").drop(columns=["truth", "se"])
    ratios = table["quantity"].str.endswith("_ratio")
    table.loc[ratios, "unit"] = "ratio"
    got = beside(table, known)
    assert len(got) == len(known)
    assert not got.loc[got["truth"] > 0, "inside"].any()
    np.testing.assert_allclose(got.loc[got["unit"] == "ratio", "error"], math.log(1.2))
    plain = got["unit"] != "ratio"
    np.testing.assert_allclose(got.loc[plain, "error"], 0.2 * got.loc[plain, "truth"])
    right = beside(table.assign(mean=known["truth"], low=-9e9, high=9e9), known)
    assert right["inside"].all()
    fewer = beside(pd.concat([table.head(3)]), known)
    assert len(fewer) == 3
