"""Raw counts: who is counted, and that a season still running does not count the lost alone."""

import pytest
from scipy.stats import binomtest
from small_study import date, small_study

from cohort.history import history
from cohort.nonparametric.counts import by_day, clopper_pearson, derived, raw_table

LINES = {
    "A": "1 | 40 1/0, 60 1/2, 180 1/9",
    "B": "1 | 40 1/0, 60 0/0",
    "C": "3 | 40 3/0, 60 3/2, 90 1/9, 180 1/9",
    "D": "3 | 40 2/0, 60 2/2, 90 0/9",
}


def raw(lines, **more):
    past = history(small_study(lines, **more))
    frame = derived(past)
    return frame.set_index("founding"), raw_table(frame, past.horizon).set_index(["genus", "arm"])


def test_a_finished_season_is_counted_whole():
    frame, table = raw(LINES)
    assert frame["colony"].tolist() == [True, False, True, False]
    assert frame["known"].all()
    # C: two lost in (60, 90], after the first worker; D: one before, two after
    assert frame["queens_lost_before"].tolist() == [0, 1, 0, 1]
    assert frame["queens_lost_after"].tolist() == [0, 0, 2, 2]
    assert frame["shared_workers"].tolist() == [False, False, True, True]
    one = table.loc[("Lasius", "single")]
    assert (one["colonies"], one["followed"]) == (1, 2)
    assert table.loc[("all", "multi"), "queens"] == 6


def test_a_season_that_still_runs_does_not_count_the_lost_alone():
    # Twenty foundings of day 0, looked at to day 60: four are lost, none can have reached 180.
    young = {f"Y{i}": "1 | 30 1/0, 60 1/1" for i in range(16)}
    young |= {f"L{i}": "1 | 30 1/0, 60 0/0" for i in range(4)}
    frame, table = raw(young)
    assert not frame["known"].any()
    assert table.loc[("all", "single"), "followed"] == 0
    # Counted with those lost, the share of colonies would have been none of four.
    naive = frame[frame["end_kind"] == "all lost"]
    assert len(naive) == 4
    assert not naive["colony"].any()


def test_a_late_flight_of_a_finished_season_is_left_out_lost_or_not():
    late = {"started": date(100)}
    lines = LINES | {"E": "1 | 30 1/0, 60 0/0", "F": "1 | 30 1/0, 80 1/3"}
    frame, table = raw(lines, more={"E": late, "F": late})
    assert not frame.loc[["E", "F"], "known"].any()
    assert frame.loc[["A", "B", "C", "D"], "known"].all()
    assert table.loc[("all", "single"), "foundings"] == 4
    assert table.loc[("all", "single"), "followed"] == 2


def test_what_entered_late_is_no_success_of_its_way():
    # A colony taken over with workers on day 60: those that failed before were never offered.
    lines = LINES | {"G": "3 | 60 2/5, 180 2/9"}
    frame, table = raw(lines, more={"G": {"followed_from": date(60)}})
    assert frame.loc["G", "colony"]
    assert not frame.loc["G", "known"]
    assert table.loc[("all", "multi"), "followed"] == 2
    assert table.loc[("all", "multi"), "foundings"] == 3


@pytest.mark.parametrize(("x", "n"), [(0, 10), (7, 20), (20, 20), (1, 3)])
def test_the_exact_interval_is_that_of_scipy(x, n):
    ours = clopper_pearson(x, n, 0.95)
    exact = binomtest(x, n).proportion_ci(0.95, method="exact")
    assert ours == pytest.approx((exact.low, exact.high), abs=1e-12)


def test_published_exact_intervals():
    # 0 of 10 and 7 of 20 (values from memory of Agresti's tables, agreeing with recomputation).
    assert clopper_pearson(0, 10, 0.95) == pytest.approx((0.0, 0.308497108), abs=1e-9)
    assert clopper_pearson(7, 20, 0.95) == pytest.approx((0.153909205, 0.592188535), abs=1e-9)


def test_by_the_last_day_is_what_the_raw_table_counts():
    past = history(small_study(LINES))
    whole, last = derived(past), by_day(past, past.horizon)
    assert last["colony"].tolist() == whole["colony"].tolist()
    assert last["known"].tolist() == whole["known"].tolist()
    assert last["alive"].tolist() == [1, 0, 1, 0]


def test_by_an_earlier_day_later_looks_are_not_known():
    # Day 65: C has workers and two queens, D too; neither has lost any since.
    early = by_day(history(small_study(LINES)), 65).set_index("founding")
    assert early["alive"].to_dict() == {"A": 1, "B": 0, "C": 3, "D": 2}
    assert early["colony"].to_dict() == {"A": True, "B": False, "C": True, "D": True}
    assert not by_day(history(small_study(LINES)), 50)["with_workers"].any()


def test_a_founding_from_which_a_queen_was_taken_alive_is_not_whole():
    events = [("C", 70, "queens-out", 1, "given")]
    lines = LINES | {"C": "3 | 40 3/0, 60 3/2, 90 1/9, 180 1/9"}
    frame = by_day(history(small_study(lines, events)), 180).set_index("founding")
    assert frame["whole"].to_dict() == {"A": True, "B": True, "C": False, "D": True}
