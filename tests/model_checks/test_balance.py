"""Allotment without a lot: exact chances by hand, and what a lot makes needless."""

from __future__ import annotations

import dataclasses
from itertools import combinations

import numpy as np
import pytest
from small_study import DAY_0, small_study

from cohort.history import history
from cohort.model import balance
from cohort.model.design import Grouping
from cohort.model.sample import prepare


def foundings(ways, **columns):
    """Compared foundings with these numbers of queens, and a design."""
    lines = {f"F{i}": f"{k} | 40 {k}/1, 80 1/9" for i, k in enumerate(ways)}
    more = {
        name: {"assigned": "chosen"} | {c: values[i] for c, values in columns.items()}
        for i, name in enumerate(lines)
    }
    past = history(small_study(lines, more=more))
    design, _ = prepare(past)
    return past.foundings[past.foundings["compared"]], design


def test_chances_are_those_of_every_way_to_share_out():
    multi = np.array([1, 1, 0, 0, 0, 1, 0], bool)
    mine = np.array([1, 0, 1, 0, 0, 1, 1], bool)
    genus = np.array(list("aaaaabb"))
    counts = []
    for a in combinations(range(5), 2):  # 2 groups among 5, and 1 among 2
        for b in (5, 6):
            counts.append(sum(i in (0, 2) for i in a) + 1 * (b in (5, 6)))
    want = np.bincount(counts, minlength=5) / len(counts)
    assert balance.groups_by_lot(multi, mine, genus) == pytest.approx(want)


def test_a_keeper_who_puts_all_queens_together_is_found():
    # K1 has 4 groups and K2 4 single queens: 1 way in 70, half of it on this side, both sides
    chosen, design = foundings([3] * 4 + [1] * 4, keeper=["K1"] * 4 + ["K2"] * 4)
    found = {(r["by"], r["group"]): r for r in balance.rows(chosen, design, seed=1)}
    assert set(found) == {("keeper", "K1"), ("keeper", "K2")}
    assert found["keeper", "K1"]["tail_area"] == pytest.approx(1 / 70)
    assert found["keeper", "K1"]["observed"] == 4
    assert found["keeper", "K1"]["expected"] == pytest.approx(2)
    assert found["keeper", "K2"]["observed"] == 0
    assert "colony" in found["keeper", "K1"]["touches"]


def test_what_the_model_knows_touches_no_question():
    chosen, design = foundings([3] * 4 + [1] * 4, keeper=["K1"] * 4 + ["K2"] * 4)
    knows = dataclasses.replace(
        design, levels={"keeper": Grouping(("K1", "K2"), np.repeat([0, 1], 4))}
    )
    assert {r["touches"] for r in balance.rows(chosen, knows, seed=1)} == {""}


def test_species_are_compared_within_their_genus():
    chosen, design = foundings(
        [3, 3, 3, 3, 1, 1, 1, 1], species=["niger"] * 4 + ["flavus"] * 4, keeper=["K1"] * 8
    )
    found = {r["group"]: r for r in balance.rows(chosen, design, seed=1)}
    assert found["niger"]["genus"] == "Lasius"
    assert found["niger"]["tail_area"] == pytest.approx(1 / 70)


def test_days_and_matings_are_shuffled_within_genera():
    ways = [3, 1] * 12
    late = [DAY_0.replace(day=20 if k == 3 else 1) for k in ways]
    chosen, design = foundings(ways, started=late, mating_seen=[3 if k == 3 else 0 for k in ways])
    found = {r["check"]: r for r in balance.rows(chosen, design, seed=1)}
    assert found["allotment_day"]["observed"] == pytest.approx(19)
    assert found["allotment_mating"]["observed"] == pytest.approx(1)
    for row in found.values():
        assert row["tail_area"] < 1e-3
        assert row["low"] < 0 < row["high"]
    even = [DAY_0.replace(day=1 + i // 2) for i in range(24)]
    chosen, design = foundings(ways, started=even)
    (day,) = balance.rows(chosen, design, seed=1)
    assert day["tail_area"] > 0.9


def test_foundings_by_lot_are_not_looked_at():
    ways, who = [3] * 6 + [1] * 6, ["K1"] * 6 + ["K2"] * 6
    chosen, design = foundings(ways, keeper=who, assigned=["random"] * 12)
    assert balance.rows(chosen, design, seed=1) == []
    chosen, design = foundings(ways, keeper=who, assigned=["random"] * 6 + ["chosen"] * 6)
    assert balance.rows(chosen, design, seed=1) == []  # all of those chosen are single
