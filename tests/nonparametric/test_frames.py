"""Foundings as survival data for other libraries, worked by hand."""

import numpy as np
import pytest
from lifelines import LogNormalFitter
from small_study import date, small_study

from cohort.base.errors import StudyError
from cohort.history import history
from cohort.nonparametric.frames import survival

LINES = {
    "A": "1 | 14 1/0, 40 1/0, 47 1/2, 180 1/9",  # first worker in (40, 47]
    "B": "1 | 14 1/0, 30 0/0",  # lost in (14, 30], none seen by 30
    "C": "3 | 14 3/0, 60 2/0",  # none by 60
    "D": "2 | 40 2/3, 60 0/3",  # first worker in (0, 40], lost in (40, 60]
    "E": "1 | 35 1/0, 50 1/0, 70 1/1",  # first followed on day 35
    "F": "1 | 50 1/4, 70 1/9",  # had workers on the day it was first followed
}
MORE = {"E": {"followed_from": date(35)}, "F": {"followed_from": date(50)}}


@pytest.fixture(scope="module")
def past():
    return history(small_study(LINES, more=MORE))


def rows(frame):
    names = ["lower", "upper", "entry", "seen", "day"]
    return {r["founding"]: tuple(r[n] for n in names) for r in frame.to_dict("records")}


def test_brackets_of_the_first_worker(past):
    assert rows(survival(past, "first_worker")) == {
        "A": (40, 47, 0, True, 47),
        "B": (30, np.inf, 0, False, 30),
        "C": (60, np.inf, 0, False, 60),
        "D": (0, 40, 0, True, 40),
        "E": (50, 70, 35, True, 70),
    }


def test_brackets_of_the_loss_of_all_queens(past):
    told = rows(survival(past, "all_lost"))
    assert told["B"] == (14, 30, 0, True, 30)
    assert told["D"] == (40, 60, 0, True, 60)
    assert told["C"] == (60, np.inf, 0, False, 60)
    assert told["F"][:3] == (70, np.inf, 50)


def test_foundings_left_out_are_not_in_it(past):
    lines = LINES | {"G": "1 | 40 1/0, 60 0/0"}
    out = history(small_study(lines, more=MORE | {"G": {"left_out": "mites"}}))
    assert set(survival(out, "all_lost")["founding"]) == set(LINES)


def test_it_goes_into_lifelines_as_its_text_says(past):
    frame = survival(past, "first_worker")
    fit = LogNormalFitter().fit_interval_censoring(frame["lower"] + 1e-6, frame["upper"])
    assert 40 < fit.median_survival_time_ < 80


def test_an_unknown_event_is_refused_with_those_there_are(past):
    with pytest.raises(StudyError, match="There are first_worker, all_lost, eggs"):
        survival(past, "fight")
