"""Records that stop without a reason, counted by hand."""

from __future__ import annotations

import math

import pytest
from small_study import small_study

from cohort.history import history
from cohort.model import flags
from cohort.model.broken_off import broken_off, rows

LOOKS = {day: f"{day} 1/0" for day in range(7, 127, 7)}


def to(day, queens=1):
    """A founding looked at every week up to a day."""
    return f"{queens} | " + ", ".join(look for d, look in LOOKS.items() if d <= day)


def past(lines, keepers=None, events=(), **settings):
    more = {name: {"keeper": (keepers or {}).get(name, "K1")} for name in lines}
    return history(small_study(lines, events, more=more, **settings))


def stopped(*given, **settings):
    made = past(*given, **settings)
    names = made.foundings["founding"]
    return set(names[broken_off(made).index[broken_off(made)]])


def test_a_founding_is_missed_after_three_ordinary_gaps():
    lines = {"A": to(126), "B": to(98), "C": to(105), "D": to(42)}
    assert stopped(lines) == {"B", "D"}  # 28 and 84 days behind; C by 21, no more than three weeks


def test_what_has_an_end_or_no_queens_has_not_broken_off():
    lines = {
        "A": to(126), "given": to(42), "lost": to(35) + ", 42 0/0",
        "winter": to(42), "gone": to(42),
    }  # fmt: skip
    events = [
        ("given", 44, "end", None, "given"),
        ("winter", 43, "winter-in", None, ""),
    ]
    assert stopped(lines, None, events) == {"gone"}


def test_a_keeper_who_stopped_altogether_has_not_left_one_founding_out():
    lines = {"A": to(126), "B": to(42), "C": to(42)}
    assert stopped(lines, {"B": "K2", "C": "K2"}) == set()


def test_nobody_is_missed_beyond_the_horizon():
    lines = {"A": to(126), "B": to(98)}
    assert stopped(lines, horizon_days=100) == set()


@pytest.mark.parametrize(("gone", "flagged"), [(2, False), (3, True)])
def test_more_than_a_few_are_flagged(gone, flagged):
    lines = {f"A{i}": to(126) for i in range(8)} | {f"B{i}": to(42) for i in range(gone)}
    table = flags.as_table(rows(past(lines)))
    assert table["observed"].tolist() == [gone, 0]
    assert table["flagged"].tolist() == [flagged, False]
    told = flags.flags(table)
    assert [(one["says"], one["tail_area"]) for one in told] == [("broken_off", None)] * flagged


def test_of_many_foundings_one_in_twenty_may_be_missed():
    lines = {f"A{i}": to(126) for i in range(76)} | {f"B{i}": to(42) for i in range(4)}
    one, _ = rows(past(lines))
    assert (one["observed"], one["high"]) == (4.0, 4.0)
    assert math.isnan(one["tail_area"])


@pytest.mark.parametrize(("ended", "flagged"), [(3, False), (4, True)])
def test_more_mishaps_than_one_in_ten_are_flagged(ended, flagged):
    lines = {f"A{i}": to(126) for i in range(30 - ended)}
    lines |= {f"B{i}": to(42) for i in range(ended)}
    events = [(f"B{i}", 43, "end", None, ("accident", "escaped")[i % 2]) for i in range(ended)]
    table = flags.as_table(rows(past(lines, None, events)))
    assert table["observed"].tolist() == [0, ended]
    assert table["flagged"].tolist() == [False, flagged]
