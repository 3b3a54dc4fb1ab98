"""Winter rests: days outside them, brackets across them, follow-up through the first of them."""

import math

import numpy as np
import pytest
from small_study import small_study

from cohort.base.errors import StudyError
from cohort.history import history
from cohort.history.winters import WinterRest, usual_winter

REST = WinterRest((50.0, 400.0), (150.0, math.inf))


def through(line, *rests, horizon=500, more=(), **others):
    """History of a founding A (and others) in a study that goes through winter."""
    words = ("winter-in", "winter-out")
    events = [
        ("A", day, word) for rest in rests for day, word in zip(rest, words, strict=False)
    ] + list(more)
    return history(
        small_study({"A": line} | others, events, through_winter=True, horizon_days=horizon)
    )


def told(h, name="A"):
    return h.foundings.set_index("founding").loc[name]


def test_warm_days_by_hand():
    # 50 days, then 100 of rest, then 250, then rest without an end
    assert [REST.warm(day) for day in (0, 50, 51, 150, 160, 400, 450)] == [
        0, 50, 50, 50, 60, 300, 300,
    ]  # fmt: skip
    assert REST.warm(math.inf) == math.inf
    assert [REST.cold(day) for day in (50, 60, 150, 300, 410)] == [0, 10, 100, 100, 110]
    assert REST.between(40, 60) == ((50.0, 10.0),)
    assert REST.between(60, 160) == ((50.0, 90.0),)
    assert REST.between(150, 400) == ()
    assert REST.between(0, 410) == ((50.0, 100.0), (300.0, 10.0))
    assert [REST.day(warm) for warm in (20, 50, 60, 300)] == [20, 150, 160, 400]


def test_follow_up_goes_on_to_the_horizon():
    h = through("3 | 40 3/0, 90 3/0, 160 2/0, 330 1/4, 340 1/4", (50, 150), horizon=330)
    row = told(h)
    assert (row["end"], row["end_kind"], row["queens_end"]) == (330, "horizon", 1)
    assert (row["first_after"], row["first_by"]) == (160, 330)
    assert h.winters == {"A": WinterRest((50.0,), (150.0,))}
    # days stay those of the calendar in every table
    assert h.intervals[["after", "by"]].to_numpy().tolist() == [
        [0, 40], [40, 90], [90, 160], [160, 330],
    ]  # fmt: skip


def test_it_ends_with_the_second_winter():
    h = through("3 | 40 3/0, 200 3/2, 420 2/9, 430 2/9", (50, 150), (420,))
    assert (told(h)["end"], told(h)["end_kind"]) == (420, "winter")
    assert h.winters["A"].starts == (50.0, 420.0)


def test_without_the_setting_all_is_as_before():
    lines, events = {"A": "3 | 40 3/0, 90 2/0, 160 2/2"}, [("A", 50, "winter-in")]
    h = history(small_study(lines, events))
    assert (told(h)["end"], told(h)["end_kind"], h.winters) == (40, "winter", {})


@pytest.mark.parametrize(
    ("line", "rests", "want"),
    [
        ("2 | 40 2/0, 60 2/-", ((50, 150),), (50.0,)),
        ("2 | 40 2/0, 50 2/0", ((50, 150),), None),  # never looked at in the cold or after
        ("2 | 60 2/0", ((-20, 30),), None),  # the winter of the year before
        ("2 | 60 2/0", ((50, 50),), None),  # in and out on one day
    ],
)
def test_which_winters_count(line, rests, want):
    rest = through(line, *rests).winters.get("A")
    assert (rest.starts if rest else None) == want


def test_a_look_in_the_cold_tells_nothing_of_a_first_worker_seen_in_the_same_cold():
    h = through("2 | 40 2/0, 80 2/0, 120 2/1", (50, 150))
    assert (told(h)["first_after"], told(h)["first_by"]) == (40, 120)
    with pytest.raises(StudyError, match="A: its first worker was seen on day 20"):
        through("2 | 10 2/0, 20 2/1", (0, 100))


def test_the_first_brood_is_not_counted_across_winter():
    assert math.isnan(told(through("1 | 40 1/1, 70 1/9", (50, 60)))["brood_day"])
    assert told(through("1 | 40 1/1, 70 1/9", (75, 160)))["brood_day"] == 70


def test_the_usual_winter_is_that_of_the_middle():
    h = through(
        "1 | 160 1/0", (61, 160), B="1 | 170 1/0", C="1 | 170 1/0", D="1 | 30 1/0",
        more=[("B", 71, "winter-in"), ("B", 150, "winter-out"), ("C", 90, "winter-in")],
    )  # fmt: skip
    # begins 61, 71 and 90: 71, to two days 70 or 72; lasts 99 and 79, one without an end: 89
    begins, days = usual_winter(h, ["A", "B", "C", "D"])
    assert abs(begins - 71) <= 1
    assert abs(days - 89) <= 1
    assert begins % 2 == days % 2 == 0
    assert usual_winter(h, ["D"]) is None


def test_a_shelf_log_stands_still_in_the_cold():
    from cohort.history.warmed import _outside

    low = np.arange(10.0)
    kept, _ = _outside(WinterRest((3.0,), (7.0,)), low, low + 4)
    assert kept.tolist() == [0, 1, 2, 7, 8, 9]
