"""Frames of a study go into lifelines as they are; events by looks, worked by hand."""

import warnings

import numpy as np
import pandas as pd
import pytest
from lifelines import (
    AalenJohansenFitter,
    CoxPHFitter,
    KaplanMeierFitter,
    LogNormalAFTFitter,
)

import cohort
from cohort.base.errors import StudyError
from cohort.nonparametric.brackets import turnbull
from cohort.nonparametric.competing import cumulative_incidence
from cohort.nonparametric.runs import first_moves
from cohort.second_opinion import time_ratio

INF = np.inf


@pytest.fixture(scope="module")
def demo():
    return cohort.read_study("data/demo")


@pytest.fixture(scope="module")
def small():
    """Six foundings looked at by hand; day 0 is 1 July."""
    f = pd.DataFrame(
        {
            "founding": list("abcdef"), "genus": "Lasius", "queens": [1, 3, 3, 2, 1, 2],
            "started": "2026-07-01", "altitude": [1.0, 2.0, 3.0, 4.0, 5.0, 6.0],
            "followed_from": ["", "", "", "", "2026-07-11", ""],
        }
    )  # fmt: skip
    looks = {
        "a": [(10, 1, 0, "none"), (20, 1, 0, "eggs"), (30, 1, 0, "larvae"), (50, 1, 4, "")],
        "b": [(10, 3, 0, "none"), (20, 2, 0, "larvae"), (30, 1, 3, "eggs"), (50, 1, 12, "")],
        "c": [(10, 3, 0, ""), (20, 0, 0, "none")],
        "d": [(10, 2, 0, "none"), (30, 2, 0, "none"), (50, 2, 0, "none")],
        "e": [(10, 1, 0, "eggs"), (20, 1, 0, "pupae")],
        "f": [(10, 2, 0, "none"), (20, 1, 0, "none"), (40, 1, 0, "eggs")],
    }
    rows = [(name, *one) for name, own in looks.items() for one in own]
    c = pd.DataFrame(rows, columns=["founding", "day", "queens_alive", "workers", "brood"])
    c["date"] = pd.Timestamp("2026-07-01") + pd.to_timedelta(c["day"], unit="D")
    events = pd.DataFrame(
        {"founding": ["f"], "date": ["2026-07-11"], "event": ["queens-out"], "number": [1],
         "other": ["given"]}
    )  # fmt: skip
    return cohort.study_from(f, c.drop(columns="day"), events, today=pd.Timestamp("2026-11-1"))


def rows(frame, *names):
    return {r["founding"]: tuple(r[n] for n in names) for r in frame.to_dict("records")}


def test_stages_of_brood_by_hand(small):
    told = rows(small.survival("eggs", shift=0), "lower", "upper", "ended_by")
    assert told == {
        "a": (10, 20, 1),
        "b": (10, 20, 1),  # larvae were eggs
        "c": (20, INF, 2),  # none at its last look, and all were lost
        "d": (50, INF, 0),
        "f": (20, 40, 1),
    }  # e had eggs on the day it was first followed
    told = rows(small.survival("pupae", shift=0), "lower", "upper")
    assert told["a"] == (30, 50)  # workers were pupae
    assert told["b"] == (20, 30)
    assert told["e"] == (10, 20)


def test_counts_of_workers_by_hand(small):
    told = rows(small.survival("workers", at_least=10, shift=0), "lower", "upper", "ended_by")
    assert told["b"] == (30, 50, 1)
    assert told["a"] == (50, INF, 0)
    assert told["c"] == (20, INF, 2)
    three = rows(small.survival("workers", at_least=3, shift=0), "lower", "upper")
    assert three["b"] == (20, 30)
    first = rows(small.survival("first_worker", shift=0), "lower", "upper")
    assert rows(small.survival("workers", at_least=1, shift=0), "lower", "upper") == first


def test_counts_of_queens_by_hand(small):
    told = rows(small.survival("queens", below=2, shift=0), "lower", "upper")
    assert told == {
        "b": (20, 30),
        "c": (10, 20),
        "d": (50, INF),
        "f": (10, INF),  # one was given away: followed to that day
    }
    assert rows(small.survival("queens", below=3, shift=0), "lower", "upper")["b"] == (10, 20)
    lost = rows(small.survival("all_lost", shift=0), "lower", "upper")
    assert rows(small.survival("queens", below=1, shift=0), "lower", "upper") == lost


def test_own_columns_stand_beside_the_brackets(small):
    frame = small.survival("first_worker")
    assert frame["altitude"].notna().all()
    assert set(frame["group"]) == {"single", "multi"}
    assert "meanings" in frame.attrs
    assert (frame["lower"] - small.survival("first_worker", shift=0)["lower"]).max() == (
        pytest.approx(1e-6)
    )


@pytest.mark.parametrize(
    ("words", "how", "told"),
    [
        ("first_workers", {}, "no event 'first_workers'. Did you mean 'first_worker'"),
        ("sting", {}, "There are first_worker, all_lost, eggs"),
        ("queens", {}, "say how many, a whole number from 1, such as below=2"),
        ("workers", {"at_least": 0}, "such as at_least=10"),
        ("workers", {"below": 3}, "workers: below has no use here"),
        ("eggs", {"at_least": 3}, "eggs: at_least has no use here"),
    ],
)
def test_a_wrong_wish_is_told(small, words, how, told):
    with pytest.raises(StudyError, match=told.replace(".", r"\.")):
        small.survival(words, **how)


def test_a_history_keeps_no_looks(small):
    with pytest.raises(StudyError, match="eggs: a history keeps no looks; give the study"):
        cohort.survival(small.history(), "eggs")


@pytest.mark.parametrize(
    ("event", "how"),
    [("first_worker", {}), ("pupae", {}), ("workers", {"at_least": 10}), ("queens", {"below": 2})],
)
def test_frames_go_straight_into_lifelines(demo, event, how):
    frame = demo.survival(event, **how)
    KaplanMeierFitter().fit(frame["day"], frame["seen"], entry=frame["entry"])
    KaplanMeierFitter().fit_interval_censoring(frame["lower"], frame["upper"])
    with warnings.catch_warnings():
        # it parts ties by chance; with two ways of few foundings it may step back and forth
        warnings.simplefilter("ignore")
        AalenJohansenFitter(seed=1).fit(frame["ended"], frame["ended_by"], event_of_interest=1)
        fit = LogNormalAFTFitter().fit_interval_censoring(
            frame, "lower", "upper", formula="1", entry_col="entry"
        )
        assert np.isfinite(fit.params_).all()
        if event != "queens":  # only groups can fall below two
            CoxPHFitter().fit(frame, "day", "seen", entry_col="entry", formula="multi")


def test_days_to_workers_by_lifelines_are_those_of_the_second_opinion(demo):
    frame = demo.survival("first_worker")
    frame["day_in"] = frame["lower"] / 50
    frame["day_by"] = frame["upper"] / 50
    frame["day_entry"] = frame["entry"] / 50
    inside = frame[frame.groupby("genus")["seen"].transform("any")]
    fit = LogNormalAFTFitter().fit_interval_censoring(
        inside, "day_in", "day_by", formula="multi + C(genus)", entry_col="day_entry"
    )
    ratio = fit.params_["mu_"].filter(like="multi").iloc[0]
    own = time_ratio(demo.survival("first_worker", shift=0))
    assert ratio == pytest.approx(own.log_ratio, abs=0.1 * own.se)


def test_the_shift_cures_closed_brackets(small):
    """Weekly looks: closed brackets share their ends, and one lump explains both."""
    lower, upper = np.array([0.0, 7.0, 0.0, 7.0]), np.array([7.0, 14.0, 7.0, 14.0])
    ours = turnbull(lower, upper).at([7.0])[0]
    closed = KaplanMeierFitter().fit_interval_censoring(lower, upper)
    cured = KaplanMeierFitter().fit_interval_censoring(lower + 1e-6, upper)
    assert ours == pytest.approx(0.5)
    assert closed.survival_function_at_times(7.0).iloc[0] != pytest.approx(0.5, abs=0.1)
    # from where each bracket has closed: within one, lifelines gives a band
    below = cured.survival_function_.loc[7.0000005:].iloc[0]
    assert below.to_numpy() == pytest.approx(0.5, abs=1e-3)


def test_competing_events_are_those_of_the_curves(demo):
    past = demo.history()
    found = past.foundings[past.foundings["compared"]].reset_index(drop=True)
    entry, leave, cause, use = first_moves(found)
    expected = cumulative_incidence(entry[use], leave[use], cause[use]).at([60.0, 120.0])
    frame = demo.survival("first_worker", shift=0)
    own = cumulative_incidence(frame["entry"], frame["ended"], frame["ended_by"])
    assert own.at([60.0, 120.0]) == pytest.approx(expected)
    apart = frame["ended"] + np.linspace(0, 1e-3, len(frame))  # ties parted by hand, not by chance
    theirs = AalenJohansenFitter().fit(apart, frame["ended_by"], event_of_interest=1)
    share = theirs.cumulative_density_.loc[:120.01].iloc[-1, 0]
    assert share == pytest.approx(own.at([120.0])[0, 0], abs=0.02)


def test_second_opinion_without_the_model(demo):
    table = demo.second_opinion()
    assert {"aft", "incidence", "cox", "logrank", "exact", "lots"} <= set(table["method"])
    assert table["estimate"].notna().sum() > 10
    assert table["model"].isna().all()
    assert table.attrs["meanings"]["method"]
    pd.testing.assert_frame_equal(table, demo.second_opinion())
    with pytest.raises(StudyError, match="level is 90"):
        demo.second_opinion(level=90)
