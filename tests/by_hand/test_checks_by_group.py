"""Numbers by group of six foundings, counted on paper.

K1, Lasius. A: one queen, alive on day 14; on day 28 workers; on day 42 dead. (lost after: 1)
            B: three queens; on day 14 two are left; on day 28 workers and two; on day 42 one.
            C: one queen, dead on day 14.
K2, Lasius. D: three queens; on day 14 three; on day 28 workers, and two are left (lost in the
            interval of the first workers: before); on day 42 none.
            E: two queens, all alive with workers on day 14 and on day 42 (a gap of 28 days).
            F: one queen, alive to day 42, no workers.
"""

from __future__ import annotations

import numpy as np
import pytest
from small_study import small_study

from cohort.history import history
from cohort.model import calendar_time
from cohort.model.replicated import calendar
from cohort.model.statistics_by_group import groups, statistics
from cohort.model.tallies import tallies

LINES = {
    "A": "1 | 14 1/0, 28 1/3, 42 0/0",
    "B": "3 | 14 2/0, 28 2/1, 42 1/9",
    "C": "1 | 14 0/0",
    "D": "3 | 14 3/0, 28 2/4, 42 0/0",
    "E": "2 | 14 2/1, 42 2/9",
    "F": "1 | 14 1/0, 28 1/0, 42 1/0",
}


@pytest.fixture(scope="module")
def counted():
    more = {name: {"keeper": "K1" if name in "ABC" else "K2"} for name in LINES}
    past = history(small_study(LINES, more=more, horizon_days=42))
    plan, seen = calendar(past)
    of = (*groups(past.foundings), *calendar_time.months(plan, past.foundings))
    dated = calendar_time.dated(plan, past.foundings)
    found = statistics(tallies(plan, seen), of)
    found |= calendar_time.statistics(dated, seen, of)
    return {key: float(value[0]) for key, value in found.items()}, of


def test_by_way(counted):
    values, _ = counted
    wanted = {
        "losses_before_workers": (1, 2),  # C; B and D
        "losses_before_workers_0_14": (1, 1),
        "losses_before_workers_14_42": (0, 1),
        "losses_after_workers": (1, 3),  # A; B, D twice
        "losses_after_workers_0_30": (1, 3),
        "losses_after_workers_30_60": (0, 0),
        "all_lost": (2, 1),
        "with_workers": (1, 3),
    }
    for check, (single, multi) in wanted.items():
        assert (values[check, "way", "single"], values[check, "way", "multi"]) == (single, multi)
    assert values["largest_loss", "way", "multi"] == 2
    assert ("largest_loss", "way", "single") not in values


def test_by_keeper_and_by_keeper_and_way(counted):
    values, _ = counted
    for check, by, name, want in (
        ("losses_before_workers", "keeper", "K1", 2),
        ("losses_before_workers", "keeper", "K2", 1),
        ("losses_after_workers", "keeper", "K1", 2),
        ("losses_after_workers", "keeper", "K2", 2),
        ("all_lost", "keeper_single", "K1", 2),
        ("all_lost", "keeper_multi", "K2", 1),
        ("with_workers", "keeper_multi", "K2", 2),
        ("with_workers", "keeper_single", "K2", 0),
    ):
        assert values[check, by, name] == want, (check, by, name)


def test_by_size_where_groups_are_of_several_sizes(counted):
    values, of = counted
    assert [g.name for g in of if g.by == "size"] == ["2", "3"]
    assert values["losses_after_workers", "size", "2"] == 0
    assert values["losses_after_workers", "size", "3"] == 3
    # log2(3 / 2) doublings in B and D; B lost 1 of 3, then 1 of 2, D 1 of 3, then 2 of 2
    assert values["losses_before_by_size", "all", ""] == pytest.approx(2 / 3 * np.log2(1.5))
    assert values["losses_after_by_size", "all", ""] == pytest.approx(3 / 2 * np.log2(1.5))


def test_days_of_first_workers_are_middles_of_their_brackets(counted):
    values, _ = counted
    days = {"A": 21.0, "B": 21.0, "D": 21.0, "E": 7.0}  # seen on days 28, 28, 28 and 14
    logs = {name: np.log(day) for name, day in days.items()}
    assert values["first_worker_day", "way", "single"] == pytest.approx(logs["A"])
    assert values["first_worker_day", "keeper", "K2"] == pytest.approx((logs["D"] + logs["E"]) / 2)
    every = np.array(list(logs.values()))
    assert values["first_worker_spread", "genus", "Lasius"] == pytest.approx(every.std(ddof=1))
    # three alike and one apart: the best split leaves nothing within the bunches
    assert values["first_worker_clusters", "all", ""] == pytest.approx(1.0)
    assert values["first_worker_skew", "all", ""] == pytest.approx(-2 / np.sqrt(3))


def test_of_looks_and_of_the_calendar(counted):
    values, _ = counted
    assert values["looks_with_loss", "all", ""] == 6  # A 42, B 14 and 42, C 14, D 28 and 42
    assert values["losses_after_first", "all", ""] == 3  # B once, D twice on day 42
    assert values["losses_long_gaps", "all", ""] == 0  # E's long gap saw no loss
    # day 0 is 1 June: day 14 the 15th, day 28 the 29th, day 42 the 13th of July
    assert values["queens_lost", "month", "2025-06"] == 3
    assert values["queens_lost", "month", "2025-07"] == 4
    # weeks run from the first look: days 14 and 28 lie two weeks apart, day 42 stands alone
    assert values["worst_fortnight", "all", ""] == 4
    assert values["worst_fortnight", "keeper", "K1"] == 2
