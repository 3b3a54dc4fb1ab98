"""The table of curves: its shape, its bands, and what must not change it."""

import time

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from small_study import date, small_study

from cohort.history import history
from cohort.nonparametric import COLUMNS, curves, product_limit


def random_lines(rng, number, *, genera=("Lasius", "Messor")):
    """Foundings with losses, workers and gaps, drawn without any model in mind."""
    lines, more = {}, {}
    for i in range(number):
        queens = int(rng.choice([1, 1, 2, 3]))
        looks, alive, workers = [], queens, 0
        for day in np.cumsum(rng.integers(3, 12, 14)):
            alive -= int(rng.binomial(alive, 0.06))
            workers += int(rng.poisson(2)) if day > 45 and (workers or rng.random() < 0.5) else 0
            noted = "-" if rng.random() < 0.1 else str(workers)
            looks.append(f"{day} {alive}/{noted}")
            if not alive:
                break
        lines[f"F{i:03d}"] = f"{queens} | {', '.join(looks)}"
        more[f"F{i:03d}"] = {"genus": genera[i % len(genera)]}
    return lines, more


def table(seed, number=24, **kwargs):
    lines, more = random_lines(np.random.default_rng(seed), number)
    return curves(history(small_study(lines, more=more)), seed=4, **kwargs)


@pytest.fixture(scope="module")
def drawn():
    return table(8)


def pick(drawn, curve, genus="all", arm="multi"):
    own = drawn[(drawn["curve"] == curve) & (drawn["genus"] == genus) & (drawn["arm"] == arm)]
    return own.set_index("day")


def test_columns_curves_and_groups(drawn):
    assert tuple(drawn.columns) == COLUMNS
    assert set(drawn["genus"]) == {"all", "Lasius", "Messor"}
    assert set(drawn["arm"]) == {"single", "multi"}
    assert set(drawn["curve"]) == {
        "queen_survival",
        "queen_survival_bracketed",
        "first_worker",
        "all_lost",
        "queens_left_0",
        "queens_left_1",
        "queens_left_several",
    }
    left = drawn["curve"].str.startswith("queens_left")
    assert set(drawn.loc[left, "arm"]) == {"multi"}


@given(st.integers(0, 10_000))
@settings(max_examples=15, deadline=None)
def test_shares_bands_and_sums(seed):
    drawn = table(seed, number=12, resamples=40)
    for column in ("estimate", "low", "high"):
        values = drawn[column].dropna()
        assert ((values >= -1e-9) & (values <= 1 + 1e-9)).all()
    bands = drawn.dropna()
    assert (bands["low"] <= bands["high"]).all()
    for (curve, _, _), own in drawn.groupby(["curve", "genus", "arm"]):
        assert own["day"].is_monotonic_increasing
        if curve.startswith("queen_survival"):
            assert (own["estimate"].diff().dropna() <= 1e-9).all()
        if curve in ("first_worker", "all_lost", "queens_left_0"):
            assert (own["estimate"].diff().dropna() >= -1e-9).all()
    wide = drawn.pivot_table(index=["genus", "arm", "day"], columns="curve", values="estimate")
    assert (wide[["first_worker", "all_lost"]].sum(axis=1) <= 1 + 1e-9).all()
    left = [name for name in wide.columns if name.startswith("queens_left")]
    np.testing.assert_allclose(wide[left].dropna().sum(axis=1), 1)


def test_queen_survival_is_the_product_limit_curve_of_single_queens():
    lines, more = random_lines(np.random.default_rng(5), 30)
    seen = history(small_study(lines, more=more))
    own = seen.intervals.merge(seen.foundings["arm"], left_on="code", right_index=True)
    own = own[own["arm"] == "multi"]
    entry = np.repeat(own["after"], own["at_risk"])
    leave = np.repeat(own["by"], own["at_risk"])
    event = np.concatenate(
        [np.arange(n) < d for n, d in zip(own["at_risk"], own["lost"], strict=True)]
    )
    curve = product_limit(entry, leave, event)
    ours = pick(curves(seen, seed=1, resamples=2), "queen_survival")["estimate"]
    np.testing.assert_allclose(curve.at(ours.index), ours)


def test_another_look_that_shows_no_change_moves_only_what_it_must():
    lines = {
        "A": "3 | 14 3/0, 42 2/0, 70 2/4",
        "B": "2 | 20 2/0, 40 1/0, 80 1/3",
        "C": "2 | 30 0/0",
    }
    before = curves(history(small_study(lines)), seed=1)
    lines["B"] = "2 | 20 2/0, 25 -/-, 40 1/0, 60 1/-, 80 1/3"
    after = curves(history(small_study(lines)), seed=1)
    pd.testing.assert_frame_equal(before, after)
    # A look that tightens the bracket of a loss does move it.
    lines["B"] = "2 | 20 2/0, 25 1/0, 40 1/0, 80 1/3"
    moved = curves(history(small_study(lines)), seed=1)
    assert not moved.equals(before)


def test_bands_resample_whole_foundings():
    # Twelve groups of six in which all die together or none does: the founding is the unit, so the
    # band is that of twelve coins, not of seventy-two.
    lines = {f"F{i}": f"6 | 10 6/0, 20 {6 * (i % 2)}/0" for i in range(12)}
    own = pick(curves(history(small_study(lines)), seed=3, resamples=4000), "queen_survival")
    low, high = own.loc[20, "low"], own.loc[20, "high"]
    assert own.loc[20, "estimate"] == pytest.approx(0.5)
    # Binomial(12, 1/2): 5 % and 95 % points are 3 and 9 of 12.
    assert (low, high) == pytest.approx((0.25, 0.75))
    # Queens resampled one by one would give a band less than half as wide.
    queens = np.random.default_rng(3).binomial(72, 0.5, 4000) / 72
    assert np.subtract(*np.quantile(queens, [0.95, 0.05])) < 0.5 * (high - low)


def test_the_same_seed_gives_the_same_bands_whoever_else_takes_part():
    lines, more = random_lines(np.random.default_rng(2), 20)
    whole = curves(history(small_study(lines, more=more)), seed=9, resamples=100)
    again = curves(history(small_study(lines, more=more)), seed=9, resamples=100)
    pd.testing.assert_frame_equal(whole, again)
    own = {name: line for name, line in lines.items() if more[name]["genus"] == "Messor"}
    alone = curves(history(small_study(own, more=more)), seed=9, resamples=100)
    part = whole[whole["genus"] == "Messor"].reset_index(drop=True)
    pd.testing.assert_frame_equal(
        part, alone[alone["genus"] == "Messor"].reset_index(drop=True), atol=1e-6
    )
    other = curves(history(small_study(lines, more=more)), seed=10, resamples=100)
    assert not other["low"].equals(whole["low"])
    np.testing.assert_allclose(other["estimate"], whole["estimate"])


def test_one_founding_bears_no_band():
    drawn = curves(history(small_study({"A": "2 | 10 1/0, 20 1/1"})), seed=1)
    assert drawn["low"].isna().all()
    assert drawn["high"].isna().all()


def test_foundings_left_out_are_not_in_it():
    lines = {"A": "2 | 10 1/0", "B": "2 | 10 2/0"}
    left = curves(history(small_study(lines, more={"A": {"left_out": "mites"}})), seed=1)
    assert pick(left, "queen_survival").loc[10, "estimate"] == 1
    every = curves(history(small_study(lines)), seed=1)
    assert pick(every, "queen_survival").loc[10, "estimate"] == 0.75
    none = {name: {"left_out": "mites"} for name in lines}
    empty = curves(history(small_study(lines, more=none)), seed=1)
    assert tuple(empty.columns) == COLUMNS
    assert empty.empty


def test_late_entry_counts_from_entry_and_stays_out_of_the_bracketed_curve():
    lines = {"A": "2 | 10 2/0, 20 1/0, 60 1/0", "B": "2 | 40 2/0, 60 1/0"}
    seen = history(small_study(lines, more={"B": {"followed_from": date(40)}}))
    drawn = curves(seen, seed=1)
    own = pick(drawn, "queen_survival")
    # Day 20: 2 of A at risk, one lost. Day 60: 1 of A and 2 of B at risk, one lost.
    assert own.loc[[20, 60], "at_risk"].tolist() == [2, 3]
    assert own.loc[[20, 60], "estimate"].tolist() == pytest.approx([1 / 2, 1 / 3])
    bracketed = pick(drawn, "queen_survival_bracketed")
    assert bracketed.loc[60, "estimate"] == pytest.approx(1 / 2)
    # With the clock of the flight nobody enters late, though all enter after day 0.
    more = {name: {"flight_date": date(-2)} for name in lines}
    flown = curves(history(small_study(lines, more=more, clock="flight")), seed=1)
    assert pick(flown, "queen_survival_bracketed")["estimate"].iloc[-1] == pytest.approx(1 / 2)


def test_a_study_without_looks_has_no_curve():
    assert curves(history(small_study({"A": "1 |", "B": "2 |"})), seed=1).empty


def test_sixty_four_foundings_and_a_thousand_resamples_take_about_a_second():
    lines, more = random_lines(
        np.random.default_rng(6), 64, genera=("Formica", "Lasius", "Manica", "Messor", "Myrmica")
    )
    seen = history(small_study(lines, more=more))
    curves(seen, seed=1, resamples=2)
    start = time.process_time()
    curves(seen, seed=1, resamples=1000)
    # Measured .2 s; the bound leaves room for a machine that is busy.
    assert time.process_time() - start < 2
