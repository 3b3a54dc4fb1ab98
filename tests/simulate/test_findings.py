"""The table of published findings, and what of it the program goes by: priors and demo season.

The facts themselves cannot be tested here. What can: that each row can be found again or says that
it is from memory; that the priors name rows which speak of their effect, with the numbers of those
rows; and that what was found lies within what the priors hold possible. Whether comparisons would
have concluded what four of the papers did is held in ``tests/published/test_conclusions.py``.
"""

import math
import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from cohort.model import parameters
from cohort.model.priors import Priors
from cohort.simulate.published import EXPERIMENTS
from cohort.terms.genera import spelled
from cohort.terms.questions import QUANTITIES

TABLE = Path(__file__).parents[2] / "data" / "findings.csv"


def read(text=None):
    from io import StringIO

    return pd.read_csv(StringIO(text) if text else TABLE, dtype=str, keep_default_na=False)


# --- rows that can be found again -----------------------------------------------------------------


def faults_of(table):
    """Rows that name no genus we know, no place to find them, or one paper in two ways."""
    placed = (table["doi"] != "") | ((table["volume"] != "") & (table["pages"] != ""))
    memory = table["reference"] == "from memory"
    said = table["what_was_read"].str.contains("memory|not known|not read again")
    doi = table["doi"].map(lambda text: bool(re.fullmatch(r"10\.\d{4,9}/\S+", text)))
    one = table[table["doi"] != ""].groupby(["authors", "year"])["doi"].transform("nunique") == 1
    unknown = (table["genus"] != "") & (table["genus"].map(spelled) != table["genus"])
    return {
        "no place": table["row"][~placed & ~memory].tolist(),
        "memory not told": table["row"][memory & ~said].tolist(),
        "no doi": table["row"][(table["doi"] != "") & ~doi].tolist(),
        "two dois": table["row"][one[~one].index].tolist(),
        "unknown genus": table["row"][unknown].tolist(),
    }


def test_each_row_can_be_found_or_says_what_is_from_memory():
    assert faults_of(read()) == {
        "no place": [], "memory not told": [], "no doi": [], "two dois": [], "unknown genus": [],
    }  # fmt: skip


@pytest.mark.parametrize(
    ("row", "column", "value", "fault"),
    [
        ("1", "pages", "", "no place"),
        ("4", "what_was_read", "abstract read", "memory not told"),
        ("6", "doi", "2024.07.16", "no doi"),
        ("16", "doi", "10.1007/other", "two dois"),
        ("9", "genus", "Solenopsys", "unknown genus"),
    ],
)
def test_a_row_that_cannot_be_found_is_seen(row, column, value, fault):
    table = read()
    table.loc[table["row"] == row, column] = value
    assert row in faults_of(table)[fault]


# --- what the priors go by ------------------------------------------------------------------------


def rows_named(text: str) -> list[str]:
    """Numbers after "row" or "rows": "rows 2, 8 and 9"."""
    lists = re.findall(r"\brows?\s+((?:\d+(?:,\s*|\s+and\s+)?)+)", text, re.I)
    return [number for found in lists for number in re.findall(r"\d+", found)]


def test_the_priors_name_rows_that_speak_of_their_effect():
    """Each effect of a genus names a row, or says that none gives it; the row speaks of it."""
    table = read().set_index("row")
    asks = {
        "founding_hazard": {"queen_survival"},
        "together": {"queen_survival"},
        "worker_hazard": {"queen_survival"},
        "rivalry": {"queens_after_workers"},
        "last_fight": {"queens_after_workers"},
        "first_worker": set(),
    }
    for name in parameters.EFFECTS:
        one = parameters.TABLE[name]
        rows = rows_named(one.why)
        assert set(table.loc[rows, "question"]) == asks[name], name
        assert rows or "no row" in one.why
    better, worse = re.split("worse", parameters.TABLE["together"].why)
    assert set(table.loc[rows_named(better), "groups"]) == {"better"}
    assert set(table.loc[rows_named(worse), "groups"]) == {"worse"}
    named = rows_named(
        " ".join([parameters.__doc__, *(row.why for row in parameters.TABLE.values())])
    )
    assert {"6", "14", "19", "22", "24", "27", "29", "30"} <= set(named) <= set(table.index)


def test_what_is_said_of_row_six():
    # fewer than 20 % alive at 130 days; 75 % alive at 227 days: even deaths, arithmetic
    assert -math.log(0.2) / 130 == pytest.approx(0.0124, abs=5e-5)
    assert -math.log(0.75) / 227 == pytest.approx(0.0013, abs=5e-5)
    finding = read().set_index("row").loc["6", "finding"]
    assert "20 % of queens alive after 130 days" in finding
    assert "75 % alive at 227 days" in finding
    why = parameters.TABLE["founding_hazard"].why
    assert "0.0013 and 0.0124 or more" in why
    prior, said = parameters.TABLE["founding_hazard"].prior, " ".join(parameters.__doc__.split())
    # halfway on the log scale: the square root of their product
    assert math.exp(prior.mean) == pytest.approx(math.sqrt(0.0013 * 0.0124), abs=5e-5)
    up, down = (abs(math.log(h) - prior.mean) / prior.sd for h in (0.0124, 0.0013))
    assert f"{down:.1f} SDs down, the 0.0124 lies {up:.1f} SDs up" in said
    assert f"each {up:.1f} SDs off" in why


@pytest.mark.parametrize(
    ("effect", "published"),
    [
        ("founding_hazard", [math.log(0.0013), math.log(0.0124)]),  # row 6
        ("together", [-math.log(3.2), math.log(3.2)]),  # rows 19 and 21, see simulate/published.py
        ("rivalry", [0.0, math.log(0.0107 / 0.0025)]),  # rows 9 and 8, the same
        ("first_worker", [math.log(53.75)]),  # row 24: 4.3 days are 8 %
    ],
)
def test_what_was_found_is_no_surprise_to_the_priors(effect, published):
    """A kind drawn from the priors lies beyond each published value in one of twenty at least."""
    rng = np.random.default_rng(5)
    prior = Priors()[effect]
    mean = rng.normal(prior.mean, prior.sd, 40_000)
    kinds = mean + np.abs(rng.normal(0.0, prior.between, 40_000)) * rng.normal(size=40_000)
    for value in published:
        assert min((kinds < value).mean(), (kinds > value).mean()) > 0.05, value
    # a prior of a tenth of the width would not know one of them
    narrow = prior.mean + 0.1 * (kinds - prior.mean)
    if len(published) > 1:
        assert min(min((narrow < v).mean(), (narrow > v).mean()) for v in published) < 0.05


def test_the_time_ratio_of_row_24_is_well_within_its_prior():
    prior = Priors()["multi_days"]
    assert abs(math.log(0.92) - prior.mean) < 0.5 * prior.sd
    assert "8 %" in read().set_index("row").loc["24", "finding"]


def test_the_sign_differs_between_genera():
    """What the prior of company is centred on nought for."""
    table = read()
    survival = table[table["question"] == "queen_survival"].groupby("groups")["genus"].nunique()
    assert survival["better"] >= 2
    assert survival["worse"] >= 2
    assert Priors()["together"].mean == 0.0


# --- what is simulated of them --------------------------------------------------------------------


@pytest.mark.parametrize("name", EXPERIMENTS)
def test_an_experiment_that_is_simulated_says_what_its_row_says(name):
    table, sides = read().set_index("row"), {"multi": ("better", "sooner"), "single": ("worse",)}
    for claim in EXPERIMENTS[name].claims:
        row = table.loc[str(claim.row)]
        question = {q for q, quantity in QUANTITIES if quantity == claim.quantity}
        assert question == {row["question"]}, claim
        if claim.found in sides:
            assert row["groups"] in sides[claim.found], claim
        if claim.found == "same":
            assert row["groups"] == "same"
        genera = set(EXPERIMENTS[name].worlds["published"].truth.genera)
        assert row["genus"] in genera
        assert claim.genus in {"average", row["genus"]}
