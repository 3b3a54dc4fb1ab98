"""The long table: which rows, which columns, which direction, and the equalities between rows."""

import math
from itertools import product

import numpy as np
import pandas as pd
import pytest
from by_rows import Rates
from scenes import history_of, lived

from cohort.likelihood.exposure import packed
from cohort.model.design import model_design
from cohort.model.own_share import own_share
from cohort.model.priors import Priors
from cohort.nonparametric.counts import derived
from cohort.outcomes import comparisons, outcomes, printed
from cohort.outcomes.parameters import prior_draws
from cohort.outcomes.quantities import Key, colony
from cohort.outcomes.table import COLUMNS, share_better
from cohort.terms.questions import QUANTITIES, READINGS

HORIZON, SIZES = 160, (1, 2, 3)
READINGS_OF = {"chance_per_founding": ("seen",), "chance_lasting": ("alike", "mated-first")} | {
    name: ("seen", "alike", "mated-first")
    for name in (
        "colonies_per_queen",
        "at_least_one_from_same_queens",
        "colonies_from_same_queens",
        "same_queens_any",
        "same_queens_count",
    )
}
CONTRAST_ONLY = ["chance_multi_better", "prior_chance_multi_better"]


@pytest.fixture(scope="module")
def made():
    rates = Rates(level1=0.006, level2=0.004, tau=0.15, phi=0.9, sigma=0.5)
    days = np.arange(7, 161, 7)
    sets = lived(8, 1, rates, days, 1) + lived(5, 3, rates, days, 2) + lived(3, 2, rates, days, 3)
    genus = ["Lasius", "Messor"] * 4 + ["Lasius"] * 5 + ["Messor"] * 3
    past = history_of(sets, more={f"F{i}": {"genus": g} for i, g in enumerate(genus)})
    frame = derived(past)
    design = model_design(packed(past))
    post = outcomes(prior_draws(design, Priors(), seed=1, draws=300), SIZES, HORIZON)
    prior = outcomes(prior_draws(design, Priors(), seed=2, draws=300), SIZES, HORIZON)
    table = comparisons(post, prior, frame[frame["compared"]])
    return table, post, frame


def days_of(quantity):
    return [HORIZON if d == -1 else d for d in quantity.days] or [None]


def test_every_question_has_its_rows(made):
    table, _, _ = made
    assert list(table.columns) == list(COLUMNS)
    kinds = ["Lasius", "Messor", "average", "next_season", "new"]
    have = {
        (q, r, g, a, k, None if pd.isna(d) else int(d))
        for q, r, g, a, k, d in table[
            ["quantity", "reading", "genus", "arm", "queens", "day"]
        ].itertuples(index=False)
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
        for day, r, g, k in product(days_of(quantity), READINGS_OF.get(name, ("",)), kinds, SIZES):
            if k == 1 and (of_groups or paired):
                continue
            if name in {"hazard_ratio", "time_ratio"}:
                want.add((name, r, g, "ratio", k, day))
                continue
            if name.startswith("same_queens"):
                want.add((name, r, g, "difference", k, day))
                continue
            single = k == 1 or paired
            want.add((name, r, g, "single" if single else "multi", k, day))
            if k > 1 and quantity.better != "none" and not paired:
                want.add((name, r, g, "difference", k, day))
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
        ("chance_per_founding", "colony", 3, 160, False),
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
    for d, r in product((60, 90, 160), READINGS):
        one = post.values[colony(1, d, r)]
        for k in (2, 3):
            many = post.values[colony(k, d, r)]
            together = post.values[Key("colony", "same_queens_any", k, d, r)]
            exact = many - (1 - (1 - one) ** k)
            assert together[:, genera] == pytest.approx(exact[:, genera], abs=1e-12)
            assert together[:, 2] == pytest.approx(together[:, :2].mean(axis=1), abs=1e-12)
            count = post.values[Key("colony", "same_queens_count", k, d, r)]
            assert count == pytest.approx(many - k * one, abs=1e-12)
            # counts bound chances: k single tubes never give fewer colonies than one chance
            assert (together >= count - 1e-12).all()
            # and the two are not one number: many draws expect more than one colony of k
            assert (together - count).max() > 0.5


def test_average_is_the_mean_of_the_genera(made):
    _, post, _ = made
    for key, values in post.values.items():
        name = key.quantity
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
    assert "chance_lasting[Lasius, 3, day 160, mated-first]" in seen
    assert {f"same_queens_any[new, 3, day 160, {r}]" for r in READINGS} <= set(seen)
    assert not any(", 2" in name for name in seen)
    assert {name.split("[")[0] for name in seen} == set(table["quantity"])


def test_means_and_bounds_are_those_of_the_draws_of_their_kind(made):
    # Fault: a mean over kinds in place of draws.
    table, post, _ = made
    draws = post.values[colony(1, 160, "seen")]
    rows = table[
        (table["quantity"] == "chance_per_founding")
        & (table["queens"] == 1)
        & (table["day"] == 160)
    ]
    assert rows["genus"].tolist() == list(post.kinds)
    assert rows["mean"].to_numpy() == pytest.approx(draws.mean(axis=0))
    assert rows["low"].to_numpy() == pytest.approx(np.quantile(draws, 0.05, axis=0))
    assert rows["high"].to_numpy() == pytest.approx(np.quantile(draws, 0.95, axis=0))


def test_readings_lie_in_their_order_and_agree_for_one_queen(made):
    # Of the same lives: who dies first can only take colonies from those as seen.
    _, post, _ = made
    for d, k in product((60, 90, 160), SIZES):
        seen, alike, first = (post.values[colony(k, d, r)] for r in READINGS)
        if k == 1:
            assert seen == pytest.approx(alike, abs=1e-9)
            assert first == pytest.approx(alike, abs=1e-9)
        else:
            assert (seen >= alike - 1e-12).all()
            assert (alike >= first - 1e-12).all()
            assert (seen - first).max() > 0.1


def flagged(table, **where):
    for column, value in where.items():
        table = table[table[column] == value]
    return table["carried_over"].tolist()


def test_what_was_not_followed_is_carried_over(made):
    _, post, frame = made
    days = {"Lasius": 95, "Messor": 0, "average": 160, "new": 90}
    inside = frame[frame["compared"]]
    table = comparisons(post, post, inside, days=days)
    colonies = {"quantity": "chance_per_founding", "arm": "multi", "queens": 3}
    assert flagged(table, genus="Lasius", **colonies) == [False, False, True]  # 60, 90, 160
    assert flagged(table, genus="average", **colonies) == [False] * 3
    assert flagged(table, genus="new", **colonies) == [False, False, True]
    assert (
        flagged(table, genus="Messor", quantity="chance_per_founding", arm="single") == [True] * 3
    )
    # of a size of which a kind has none, whatever the day, and of a number without a day
    assert flagged(table, genus="Lasius", **colonies | {"queens": 2}) == [True] * 3
    assert flagged(table, genus="Lasius", quantity="hazard_ratio") == [True, False]  # 2 and 3
    assert flagged(table, genus="Messor", quantity="hazard_ratio") == [False, True]
    # days since the first worker lie behind it
    first = float(inside.loc[(inside["arm"] == "multi") & (inside["genus"] == "Lasius")
                             & np.isfinite(inside["first_by"]), "first_by"].median())  # fmt: skip
    left = flagged(table, genus="Lasius", quantity="chance_one_left", queens=3)
    assert left == [first + d > 95 for d in (30, 60, 90)]
    assert set(left) == {True, False}
    # nobody says how far: nothing lies beyond it
    plain = comparisons(post, post, inside)
    assert flagged(plain, genus="Messor", **colonies | {"queens": 2}) == [False] * 3


def test_own_share_by_hand():
    # Untried: -2, 0, 2, 0 (variance 2). Half as far: variance .5, so three quarters are its own.
    untried = np.array([-2.0, 0.0, 2.0, 0.0])
    kinds = np.stack([untried / 2, untried + 5, 3 * untried, np.ones(4)], axis=1)
    assert own_share(kinds, untried) == pytest.approx([0.75, 0.0, 0.0, 1.0])
    assert np.isnan(own_share(kinds, np.ones(4))).all()


def test_own_share_stands_by_kinds_and_not_by_all_of_them(made):
    table, post, _ = made
    of_all = table["genus"].isin(["average", "next_season", "new"])
    assert table.loc[of_all, "own_share"].isna().all()
    own = table.loc[~of_all, "own_share"]
    assert own.notna().mean() > 0.9
    assert own.dropna().between(0, 1).all()
    # these draws are of the priors: no kind has data of its own
    assert own.median() < 0.1
    row = table[(table["quantity"] == "hazard_ratio") & (table["queens"] == 3)
                & (table["genus"] == "Messor")].iloc[0]  # fmt: skip
    draws = np.log(post.values[Key("queen_survival", "hazard_ratio", 3, math.inf)])
    want = max(0.0, 1 - draws[:, 1].var() / draws[:, 4].var())
    assert row["own_share"] == pytest.approx(want)
