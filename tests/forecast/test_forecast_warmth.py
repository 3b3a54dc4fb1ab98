"""Forecasts from results that run on degree-days: a shelf stays as warm as it has been."""

import datetime as dt
import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from ongoing_seasons import as_basis

from cohort.forecast import due
from cohort.simulate.truth import GenusTruth, Truth
from cohort.study import read_study

TRUTH = GenusTruth(frailty=0.4, within_days=0.12, mated=0.85, log_median_day=math.log(48.0))
PLAIN = as_basis(Truth({"Lasius": TRUTH}))
ON = dt.date(2026, 7, 12)
START = dt.date(2026, 6, 1)
REFERENCE, THRESHOLD = 24.0, 11.0


def log_of(temperature, days, first=0):
    return "".join(
        f"S1,{START + dt.timedelta(days=d)},{temperature},{temperature}\n"
        for d in range(first, first + days)
    )


def study(folder, temperatures=""):
    folder.put(
        "foundings.csv",
        "founding,genus,started,queens,keeper,shelf\n"
        f"A-1,Lasius,{START},1,K1,S1\nA-2,Lasius,{START},3,K1,S1\nA-3,Lasius,{START},1,K1,\n",
    )
    folder.put(
        "checks.csv",
        "founding,date,queens_alive,workers\n"
        "A-1,2026-06-20,1,0\nA-2,2026-06-20,3,0\nA-3,2026-06-20,1,0\n"
        "A-1,2026-07-10,1,0\nA-2,2026-07-10,2,0\nA-3,2026-07-10,1,0\n",
    )
    if temperatures:
        folder.put("temperatures.csv", "shelf,date,min_c,max_c\n" + temperatures)
    return read_study(folder.path, today=dt.date(2026, 12, 31))


def warm_basis():
    return replace(PLAIN, threshold=np.array([THRESHOLD]), reference=REFERENCE)


def shifted(by):
    params = PLAIN.draws.params.copy()
    params[..., 5] += by
    return replace(PLAIN, draws=replace(PLAIN.draws, params=params))


def windows(made, basis):
    return due(made, ON, basis).windows.set_index("founding")


def test_a_cool_shelf_puts_the_window_off_as_far_as_its_degree_days_say(folder):
    made = study(folder, log_of(20.0, 45))
    got = windows(made, warm_basis())
    want = windows(made, shifted(math.log((REFERENCE - THRESHOLD) / (20.0 - THRESHOLD))))
    plain = windows(made, PLAIN)
    for name in ("low90", "low50", "middle", "high50", "high90"):
        assert (got.loc[["A-1", "A-2"], name] == want.loc[["A-1", "A-2"], name]).all()
        assert got.loc["A-3", name] == plain.loc["A-3", name]
        assert got.loc["A-1", name] > plain.loc["A-1", name]
    assert got.loc["A-2", "none_this_season"] == pytest.approx(want.loc["A-2", "none_this_season"])


def test_what_is_not_known_of_the_warmth_is_said(folder):
    said = " ".join(due(study(folder, log_of(20.0, 45)), ON, warm_basis()).says)
    assert "2 foundings have a complete shelf log" in said
    assert "1 founding has no complete shelf log. It is taken to be kept at 24.0" in said
    assert "shelf" not in " ".join(due(study(folder, log_of(20.0, 45)), ON, PLAIN).says)


def test_a_log_of_later_days_is_left_aside(folder):
    now = windows(study(folder, log_of(20.0, 42)), warm_basis())
    hot = log_of(20.0, 42) + log_of(31.0, 60, first=42)
    later = windows(study(folder, hot), warm_basis())
    pd.testing.assert_frame_equal(now, later)


def test_without_a_log_the_forecast_is_in_plain_days(folder):
    got, plain = windows(study(folder), warm_basis()), windows(study(folder), PLAIN)
    pd.testing.assert_frame_equal(got, plain)
