"""Five foundings solved on paper.

The looks::

    day        10     20     30     40
    A  (2)     2/0    1/0    1/4              queens / workers
    B  (1)     1/0    0/0
    C  (3)     2/0    2/0    2/1    0/5
    D  (1)     1/0    1/0    1/2    1/9
    E  (2)     2/0     .     1/0

What they tell::

    A loses one queen in (10, 20], has workers in (20, 30], is followed to day 30 with 1 queen.
    B loses its queen in (10, 20], no workers seen by day 20.
    C loses one in (0, 10] and the last two in (30, 40]; workers in (20, 30].
    D loses none, workers in (20, 30], followed to day 40.
    E loses one in (10, 30] (nobody looked on day 20); no workers by day 30, the last look.
"""

import numpy as np
import pytest
from small_study import small_study, spans, told

from cohort.history import history
from cohort.nonparametric import curves, turnbull

LOOKS = {
    "A": "2 | 10 2/0, 20 1/0, 30 1/4",
    "B": "1 | 10 1/0, 20 0/0",
    "C": "3 | 10 2/0, 20 2/0, 30 2/1, 40 0/5",
    "D": "1 | 10 1/0, 20 1/0, 30 1/2, 40 1/9",
    "E": "2 | 10 2/0, 30 1/0",
}


@pytest.fixture(scope="module")
def seen():
    return history(small_study(LOOKS))


@pytest.fixture(scope="module")
def drawn(seen):
    return curves(seen, seed=1, resamples=50)


def curve(drawn, name, arm, column="estimate"):
    own = drawn[(drawn["curve"] == name) & (drawn["genus"] == "all") & (drawn["arm"] == arm)]
    return dict(zip(own["day"], own[column], strict=True))


def test_queens_at_risk_and_lost_in_each_interval(seen):
    assert spans(seen, "A") == [(0, 10, 2, 2), (10, 20, 2, 1), (20, 30, 1, 1)]
    assert spans(seen, "B") == [(0, 10, 1, 1), (10, 20, 1, 0)]
    assert spans(seen, "C") == [(0, 10, 3, 2), (10, 20, 2, 2), (20, 30, 2, 2), (30, 40, 2, 0)]
    assert spans(seen, "D") == [(0, 10, 1, 1), (10, 20, 1, 1), (20, 30, 1, 1), (30, 40, 1, 1)]
    assert spans(seen, "E") == [(0, 10, 2, 2), (10, 30, 2, 1)]


def test_first_workers_ends_and_losses_of_all(seen):
    columns = ["first_after", "first_by", "end", "queens_end", "lost_after", "lost_by"]
    inf = np.inf
    expected = {
        "A": (20, 30, 30, 1, inf, inf),
        "B": (20, inf, 20, 0, 10, 20),
        "C": (20, 30, 40, 0, 30, 40),
        "D": (20, 30, 40, 1, inf, inf),
        "E": (30, inf, 30, 1, inf, inf),
    }
    for name, values in expected.items():
        assert tuple(told(seen, name)[columns]) == values


def test_queens_at_risk_just_before_each_day(drawn):
    # Groups A, C, E begin with 2 + 3 + 2 = 7 queens, all at risk just before day 10. One of C is
    # lost: 6 just before day 20 (E was not looked at, but its two are known of on day 10 and one
    # on day 30). One of A is lost: 5 just before day 30 (1 + 2 + 2). One of E is lost, and A and E
    # are followed no further: only the 2 of C just before day 40.
    at_risk = curve(drawn, "queen_survival", "multi", "at_risk")
    assert at_risk == {0: 7, 10: 7, 20: 6, 30: 5, 40: 2}


def test_share_of_queens_alive(drawn):
    # 6/7; then times 5/6 = 5/7; then times 4/5 = 4/7; then times 0/2 = 0.
    share = curve(drawn, "queen_survival", "multi")
    assert share == pytest.approx({0: 1, 10: 6 / 7, 20: 5 / 7, 30: 4 / 7, 40: 0})
    # Single: two at risk to day 20, one lost.
    assert curve(drawn, "queen_survival", "single") == pytest.approx(
        {0: 1, 10: 1, 20: 1 / 2, 30: 1 / 2, 40: 1 / 2}
    )


def test_share_of_queens_alive_by_brackets(drawn):
    # Seven queens: one in (0, 10], one in (10, 20], one in (10, 30], two in (30, 40], and two last
    # seen alive on day 30, in (30, inf). Where can chance lie? (0, 10] and (10, 20] hold no other
    # bracket's end, nor does (30, 40]. The queen of (10, 30] is best explained by (10, 20], which
    # explains another as well, and those of (30, inf) by (30, 40]. So one, two and four sevenths.
    share = curve(drawn, "queen_survival_bracketed", "multi")
    at_steps = {day: share[day] for day in (0, 10, 20, 40)}
    assert at_steps == pytest.approx({0: 1, 10: 6 / 7, 20: 4 / 7, 40: 0}, abs=1e-6)


def test_closed_brackets_would_make_one_lump_of_day_10():
    # The wrong reading: closed brackets share their ends. The point 10 then explains the queens of
    # [0, 10] and [10, 20]; the point 30 those of [30, 40] and [30, inf), four; and the queen of
    # [10, 30] either, so the two points share it as they share the rest, 2 to 4. After day 10 the
    # share alive would be 4/6, not 6/7, and after day 30 nothing, not 4/7.
    after = np.array([0.0, 10, 10, 30, 30, 30, 30])
    by = np.array([10.0, 20, 30, 40, 40, np.inf, np.inf])
    assert turnbull(after, by).at([10, 30]) == pytest.approx([6 / 7, 4 / 7])
    assert turnbull(after - 1e-6, by).at([10, 30]) == pytest.approx([4 / 6, 0])


def test_first_worker_against_loss_of_all(drawn):
    # Groups: A and C have workers on day 30, of three watched: 2/3. E is censored that day. C loses
    # all later, after its workers: no loss of all before a worker.
    first = curve(drawn, "first_worker", "multi")
    assert (first[20], first[30]) == pytest.approx((0, 2 / 3))
    assert set(curve(drawn, "all_lost", "multi").values()) == {0}
    # Single: B lost on day 20, 1 of 2. D has workers on day 30, 1 of 1 left: half times 1.
    assert curve(drawn, "all_lost", "single")[30] == pytest.approx(1 / 2)
    assert curve(drawn, "first_worker", "single")[20] == 0
    assert curve(drawn, "first_worker", "single")[30] == pytest.approx(1 / 2)
    assert curve(drawn, "first_worker", "single", "at_risk") == {0: 2, 10: 2, 20: 2, 30: 1}


# The second sheet: what becomes of the queens after the first worker.
#
#     P (3)  10 3/0, 20 3/2, 30 2/5, 40 1/9, 60 1/20
#     Q (2)  10 2/0, 20 2/1, 30 0/3
#     R (2)  10 2/0, 20 2/1, 40 2/6
#     T (2)  10 2/0, 20 1/1, 50 1/4
#     U (2)  10 1/0, 20 1/2
#
# The first worker of each lies in (10, 20] and is dated day 15. U had one queen then and is not of
# those with several. P: a queen lost in (20, 30], dated 25, 10 days after; two are left, still
# several; another lost in (30, 40], dated 35, 20 days after: one left, followed to day 60, 45
# after.
# Q: both lost in (20, 30], 10 days after. R: both to day 40, 25 after. T: one lost in the bracket
# that holds the first worker; it counts as after it, in (15, 20], dated 17.5, 2.5 days after; one
# left, followed to day 50, 35 after.
AFTERWARDS = {
    "P": "3 | 10 3/0, 20 3/2, 30 2/5, 40 1/9, 60 1/20",
    "Q": "2 | 10 2/0, 20 2/1, 30 0/3",
    "R": "2 | 10 2/0, 20 2/1, 40 2/6",
    "T": "2 | 10 2/0, 20 1/1, 50 1/4",
    "U": "2 | 10 1/0, 20 1/2",
}


def test_queens_left_after_the_first_worker():
    drawn = curves(history(small_study(AFTERWARDS)), seed=1, resamples=50)
    several = curve(drawn, "queens_left_several", "multi")
    one = curve(drawn, "queens_left_1", "multi")
    none = curve(drawn, "queens_left_0", "multi")
    # Day 2.5: 1 of 4 with several goes to one. Several 3/4, one 1/4.
    # Day 10: 1 of 3 with several goes to none: several 3/4 x 2/3 = 1/2, none 3/4 x 1/3 = 1/4.
    # Day 20: 1 of 2 with several goes to one: several 1/4, one 1/4 + 1/4 = 1/2.
    assert several == pytest.approx(
        {0: 1, 2.5: 3 / 4, 10: 1 / 2, 20: 1 / 4, 30: 1 / 4, 40: 1 / 4, 45: 1 / 4}
    )
    assert one == pytest.approx(
        {0: 0, 2.5: 1 / 4, 10: 1 / 4, 20: 1 / 2, 30: 1 / 2, 40: 1 / 2, 45: 1 / 2}
    )
    assert none == pytest.approx(
        {0: 0, 2.5: 0, 10: 1 / 4, 20: 1 / 4, 30: 1 / 4, 40: 1 / 4, 45: 1 / 4}
    )
    # Watched with a living queen just before: P Q R T; the same; P R T; P and T; P; P.
    at_risk = curve(drawn, "queens_left_1", "multi", "at_risk")
    assert at_risk == {0: 4, 2.5: 4, 10: 4, 20: 3, 30: 2, 40: 1, 45: 1}


def test_queens_taken_out_end_the_count_of_queens_left():
    # R gives a queen away on day 30, 15 days after its first worker: what is left is the keeper's
    # doing. On day 20 after, P alone is watched with several: several 1/2 x 0, one 1/4 + 1/2.
    study = small_study(
        AFTERWARDS | {"R": "2 | 10 2/0, 20 2/1, 40 1/6"}, [("R", 30, "queens-out", 1, "given")]
    )
    drawn = curves(history(study), seed=1, resamples=50)
    assert curve(drawn, "queens_left_1", "multi")[20] == pytest.approx(3 / 4)
    assert curve(drawn, "queens_left_several", "multi")[20] == pytest.approx(0)
