"""The long table: which rows, which columns, which direction, and the equalities between rows."""

import math

import numpy as np
import pandas as pd
import pytest
from by_rows import Rates
from scenes import history_of, lived

from cohort.counts import derived
from cohort.exposure import packed
from cohort.model.lineup import line_up
from cohort.model.priors import Priors
from cohort.outcomes import comparisons, outcomes, printed
from cohort.outcomes.parameters import prior_draws
from cohort.outcomes.table import COLUMNS, share_better
from cohort.terms.questions import QUANTITIES

HORIZON, SIZES = 160, (1, 2, 3)
CONTRAST_ONLY = ["chance_multi_better", "prior_chance_multi_better"]


@pytest.fixture(scope="module")
def made():
    rates = Rates(level1=0.006, level2=0.004, tau=0.15, phi=0.9, sigma=0.5)
    days = np.arange(7, 161, 7)
    sets = lived(8, 1, rates, days, 1) + lived(5, 3, rates, days, 2) + lived(3, 2, rates, days, 3)
    genus = ["Lasius", "Messor"] * 4 + ["Lasius"] * 5 + ["Messor"] * 3
    past = history_of(sets, more={f"F{i}": {"genus": g} for i, g in enumerate(genus)})
    frame = derived(past)
    lineup = line_up(packed(past))
    post = outcomes(prior_draws(lineup, Priors(), seed=1, draws=300), SIZES, HORIZON)
    prior = outcomes(prior_draws(lineup, Priors(), seed=2, draws=300), SIZES, HORIZON)
    table = comparisons(post, prior, frame[frame["compared"]])
    return table, post, frame


def days_of(quantity):
    return [HORIZON if d == -1 else d for d in quantity.days] or [None]


def test_every_question_has_its_rows(made):
    table, _, _ = made
    assert list(table.columns) == list(COLUMNS)
    kinds = ["Lasius", "Messor", "average", "next_season", "new"]
    have = {
        (q, g, a, k, None if pd.isna(d) else int(d))
        for q, g, a, k, d in table[["quantity", "genus", "arm", "queens", "day"]].itertuples(
            index=False
        )
    }
    assert len(have) == len(table)
    want = set()
    for quantity in QUANTITIES.values():
        name = quantity.name
        if not quantity.drawn:
            continue  # its rows are made apart, see tests/model_checks/test_brood.py
        of_groups = quantity.question == "queens_after_workers" or name in {
            "hazard_ratio",
            "time_ratio",
        }
        paired = name.startswith(("same_queens", "at_least_one", "colonies_from"))
        for day in days_of(quantity):
            for g in kinds:
                for k in SIZES:
                    if k == 1 and (of_groups or paired):
                        continue
                    if name in {"hazard_ratio", "time_ratio"}:
                        want.add((name, g, "ratio", k, day))
                        continue
                    if name.startswith("same_queens"):
                        want.add((name, g, "difference", k, day))
                        continue
                    single = k == 1 or paired
                    want.add((name, g, "single" if single else "multi", k, day))
                    if k > 1 and quantity.better != "none" and not paired:
                        want.add((name, g, "difference", k, day))
    assert have == want


def test_the_contrast_columns_stand_on_contrasts_only(made):
    table, _, _ = made
    contrast = table["arm"].isin(["difference", "ratio"])
    assert table.loc[contrast, CONTRAST_ONLY].notna().all().all()
    assert table.loc[~contrast, [*CONTRAST_ONLY, "chance_practically_equal"]].isna().all().all()
    # Beyond the contract, the fertile share too says when its prior rules (it may be all prior).
    said = table["prior_rules"].notna()
    assert (said == (contrast | (table["quantity"] == "fertile_share"))).all()
    equal = table.loc[contrast & (table["unit"] != "queens"), "chance_practically_equal"]
    assert equal.between(0, 1).all()
    assert (table["level"] == 0.9).all()
    assert (table["low"] <= table["high"]).all()


@pytest.mark.parametrize("name", ["median_day", "chance_by_day"])
def test_ties_count_half_whichever_direction_is_better(name):
    # Fault: ties counted for singles where more is better and for groups where less is.
    quantity = QUANTITIES["first_worker", name]
    assert share_better(quantity, np.zeros(10)) == 0.5
    assert share_better(quantity, np.array([0.0, 0.0, 1.0, -1.0])) == 0.5


def test_higher_is_better_where_it_is(made):
    table, post, _ = made
    for name, question, k, day, lower in (
        ("median_day", "first_worker", 3, math.nan, True),
        ("chance_lasting", "colony", 3, 160, False),
        ("queen_days", "queen_survival", 2, 160, False),
    ):
        key = next(
            key
            for key in post.values
            if key[:3] == (question, name, k) and key[3] in (math.inf, day)
        )
        alone = next(
            other
            for other in post.values
            if other[:3] == (question, name, 1) and other[3] in (math.inf, day)
        )
        gap = post.values[key] - post.values[alone]
        want = (gap < 0).mean(axis=0) if lower else (gap > 0).mean(axis=0)
        want += 0.5 * (gap == 0).mean(axis=0)  # a tie speaks for neither way
        rows = table[
            (table["quantity"] == name) & (table["arm"] == "difference") & (table["queens"] == k)
        ]
        rows = rows[rows["day"].isna() | (rows["day"] == day)]
        assert rows["chance_multi_better"].to_numpy() == pytest.approx(want, abs=1e-12)
    ratio = table[(table["quantity"] == "hazard_ratio") & (table["queens"] == 2)]
    key = next(key for key in post.values if key[1] == "hazard_ratio" and key[2] == 2)
    better = (post.values[key] < 1).mean(axis=0)
    assert ratio["chance_multi_better"].to_numpy() == pytest.approx(better)
    assert ratio["mean"].to_numpy() == pytest.approx(np.exp(np.log(post.values[key]).mean(axis=0)))


def test_the_same_queens_both_ways_in_every_draw(made):
    _, post, _ = made
    genera = [0, 1, 4]  # Lasius, Messor, new; the average is the mean of its genera, not a power
    for d in (60, 90, 160):
        one = post.values["colony", "chance_lasting", 1, d]
        for k in (2, 3):
            many = post.values["colony", "chance_lasting", k, d]
            together = post.values["colony", "same_queens_any", k, d]
            exact = many - (1 - (1 - one) ** k)
            assert together[:, genera] == pytest.approx(exact[:, genera], abs=1e-12)
            assert together[:, 2] == pytest.approx(together[:, :2].mean(axis=1), abs=1e-12)
            count = post.values["colony", "same_queens_count", k, d]
            assert count == pytest.approx(many - k * one, abs=1e-12)
            # counts bound chances: k single tubes never give fewer colonies than one chance
            assert (together >= count - 1e-12).all()
            # and the two are not one number: many draws expect more than one colony of k
            assert (together - count).max() > 0.5


def test_average_is_the_mean_of_the_genera(made):
    _, post, _ = made
    for (_, name, _, _), values in post.values.items():
        known = np.log(values[:, :2]) if name.endswith("_ratio") else values[:, :2]
        mean = known.mean(axis=1)
        mean = np.exp(mean) if name.endswith("_ratio") else mean
        assert values[:, 2] == pytest.approx(mean, rel=1e-9, abs=1e-12), name


def test_foundings_behind_each_row(made):
    table, _, frame = made

    def count(**where):
        rows = table
        for column, value in where.items():
            rows = rows[rows[column] == value]
        assert rows["foundings"].nunique() == 1
        return int(rows["foundings"].iloc[0])

    lasting = {"quantity": "chance_lasting", "day": 160}
    assert count(genus="Lasius", arm="single", queens=1, **lasting) == 4
    assert count(genus="Lasius", arm="multi", queens=3, **lasting) == 5
    assert count(genus="Lasius", arm="multi", queens=2, **lasting) == 0  # carried over
    assert count(genus="Messor", arm="multi", queens=2, **lasting) == 3
    assert count(genus="new", arm="single", queens=1, **lasting) == 8
    assert count(genus="average", arm="difference", queens=3, **lasting) == 5 + 8
    assert (
        count(genus="Messor", arm="single", queens=3, quantity="colonies_from_same_queens", day=160)
        == 4
    )
    shared = frame[(frame["size"] == 3) & frame["shared_workers"]]
    assert count(genus="average", queens=3, quantity="chance_one_left", day=30) == len(shared)


def test_the_gate_sees_what_the_page_prints(made):
    table, post, _ = made
    seen = printed(post, 3)
    assert all(array.shape == (1, 300) for array in seen.values())
    assert "chance_lasting[Lasius, 3, day 160]" in seen
    assert "same_queens_any[new, 3, day 160]" in seen
    assert not any(", 2" in name for name in seen)
    assert {name.split("[")[0] for name in seen} == set(table["quantity"])


def test_means_and_bounds_are_those_of_the_draws_of_their_kind(made):
    # Fault: a mean over kinds in place of draws.
    table, post, _ = made
    draws = post.values["colony", "chance_lasting", 1, 160]
    rows = table[
        (table["quantity"] == "chance_lasting") & (table["queens"] == 1) & (table["day"] == 160)
    ]
    assert rows["genus"].tolist() == list(post.kinds)
    assert rows["mean"].to_numpy() == pytest.approx(draws.mean(axis=0))
    assert rows["low"].to_numpy() == pytest.approx(np.quantile(draws, 0.05, axis=0))
    assert rows["high"].to_numpy() == pytest.approx(np.quantile(draws, 0.95, axis=0))
