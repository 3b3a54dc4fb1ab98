"""Raw counts: who is counted, and that a season still running does not count the lost alone."""

import numpy as np
import pytest
from scipy.stats import binomtest
from small_study import date, small_study

from cohort.counts import clopper_pearson, derived, permutation, raw_table
from cohort.history import history

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


def test_shuffles_within_blocks_find_a_difference_and_only_then():
    rng = np.random.default_rng(8)
    lines, more = {}, {}
    for i in range(16):
        k = 3 if i % 2 else 1
        lives = i % 2 if i < 14 else 1 - i % 2  # nearly always the groups
        end = "180 1/9" if lives else "60 0/0"
        lines[f"F{i:02d}"] = f"{k} | 40 {k}/0, 50 {k}/1, {end}"
        more[f"F{i:02d}"] = {"assigned": "random", "block": f"B{i // 2}"}
    found = permutation(history(small_study(lines, more=more)), seed=1)
    assert found is not None
    assert found["difference"] == pytest.approx(0.75)
    # eight pairs, one of them the wrong way: exact two-sided chance (1 + 8) x 2 / 256
    assert found["chance"] == pytest.approx(18 / 256, abs=0.02)
    order = rng.permutation(list(lines))
    shuffled = dict(zip(order, lines.values(), strict=True))
    assert permutation(history(small_study(shuffled)), seed=1) is None  # nothing was allotted
