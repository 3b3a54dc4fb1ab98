"""Which foundings run on degree-days, what a reader is told, and the way from sheets to draws."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from cohort.history import history
from cohort.history.warmed import warmth_of, with_warmth
from cohort.likelihood import layout as at
from cohort.likelihood.exposure import packed
from cohort.model.design import model_design
from cohort.model.predictive import calendar
from cohort.simulate.design import Design
from cohort.simulate.season import simulate_study
from cohort.simulate.truth import GenusTruth, Truth
from cohort.simulate.warm import Shelves, Weather
from cohort.study import Study, read_study
from cohort.warmth import WarmClock, thresholds

START = dt.date(2026, 5, 1)
TODAY = dt.date(2026, 12, 31)


def rows(shelf: str, middle: float, days: range, half: float = 3.0) -> str:
    return "".join(
        f"{shelf},{START + dt.timedelta(days=d)},{middle - half},{middle + half}\n" for d in days
    )


def study_of(
    folder, log: str, shelves: tuple[str, ...], settings: str = "", flown: int = 0
) -> Study:
    """Foundings of one and three queens in turn; looks on days 20, 40 and 60, workers on 60."""
    flight = START - dt.timedelta(days=flown)
    folder.put("foundings.csv", "founding,genus,started,queens,shelf,flight_date\n" + "".join(
        f"K1-{i + 1:02d},Lasius,{START},{1 + 2 * (i % 2)},{s},{flight}\n"
        for i, s in enumerate(shelves)
    ))  # fmt: skip
    folder.put("checks.csv", "founding,date,queens_alive,workers\n" + "".join(
        f"K1-{i + 1:02d},{START + dt.timedelta(days=d)},{1 + 2 * (i % 2)},{int(d == 60)}\n"
        for i in range(len(shelves)) for d in (20, 40, 60)
    ))  # fmt: skip
    folder.put("temperatures.csv", "shelf,date,min_c,max_c\n" + log)
    folder.put("study.toml", f'title = "Ours"\nseason = "2026"\n{settings}')
    return read_study(folder.path, today=TODAY)


def lined(study: Study):
    past = with_warmth(study, history(study))
    exposure = packed(past)
    return past, exposure, model_design(exposure, adjust=study.settings.adjust)


def about_warmth(design) -> str:
    return " ".join(n for n in design.notes if "degree-days" in n or "plain days" in n)


ALL = ("S1", "S1", "S2", "S2")
WHOLE = rows("S1", 20.0, range(61)) + rows("S2", 25.0, range(61))


def test_a_complete_log_puts_every_founding_on_the_clock_and_says_so(folder) -> None:
    past, exposure, design = lined(study_of(folder, WHOLE, ALL))
    assert design.logged.all()
    assert past.warmth.reference == pytest.approx(22.5) == design.reference
    assert exposure.nodes.shape[1] == at.WARM_NODE_WIDTH
    assert (exposure.nodes[:, at.WARM_NODE] == past.warmth.reference).all()
    said = about_warmth(design)
    assert "4 of 4 foundings run on degree-days" in said
    assert "a day at 22.5 C" in said
    assert "between 4 and 20 C" in said.replace("19.5", "20")
    assert "The other" not in said


def test_a_log_with_a_hole_leaves_its_foundings_on_plain_days_with_the_reason(folder) -> None:
    log = rows("S1", 20.0, range(61)) + rows("S2", 25.0, [d for d in range(61) if d != 30])
    _, exposure, design = lined(study_of(folder, log, ("S1", "S1", "S1", "S2", "S2", "")))
    assert design.logged.tolist() == [True] * 3 + [False] * 3
    assert design.reference == pytest.approx(20.0)
    said = about_warmth(design)
    assert "The other 3 run on plain days, as if kept at 20.0 C" in said
    assert "the log of shelf S2 has rows that span up to 2 days (2)" in said
    assert "no shelf is noted (1)" in said
    owner = np.repeat(
        exposure.records[:, at.OWNER],
        (exposure.records[:, at.NODES_TO] - exposure.records[:, at.NODES_FROM]).astype(int),
    )
    on_clock = exposure.nodes[:, at.WARM_NODE] > 0
    assert (on_clock == design.logged[owner.astype(int)]).all()


def test_too_few_logged_foundings_or_too_cold_a_shelf_and_nobody_runs_on_it(folder) -> None:
    few = study_of(folder, rows("S1", 20.0, range(61)), ("S1", "S1", "S2", ""))
    _, exposure, design = lined(few)
    assert not design.logged.any()
    assert exposure.nodes.shape[1] == at.NODE_WIDTH
    assert "No founding runs on degree-days: fewer than 3 foundings" in about_warmth(design)
    assert "shelf S2 has no log (1)" in about_warmth(design)
    cold = study_of(folder, rows("S1", 9.0, range(61)), ("S1",) * 4)
    _, _, design = lined(cold)
    assert not design.logged.any()
    assert "too cold for it (9.0 C on average)" in about_warmth(design)


def test_without_a_shelf_log_nothing_is_said(folder) -> None:
    study = study_of(folder, WHOLE, ALL)
    study = replace(study, temperatures=study.temperatures.iloc[:0])
    past, exposure, design = lined(study)
    assert past.warmth is None
    assert exposure.records.shape[1] == at.RECORD_WIDTH
    assert about_warmth(design) == ""


def test_the_mean_warmth_adjusts_only_those_on_plain_days(folder) -> None:
    weekly = rows("S2", 25.0, range(0, 64, 7))
    log, shelves = rows("S1", 20.0, range(61)) + weekly, ("S1", "S1", "S1", "S2", "S2")
    _, _, design = lined(study_of(folder, log, shelves, 'adjust = ["shelf_temperature"]\n'))
    # five degrees above the reference of the others, not above the mean of all
    assert design.warm.tolist() == pytest.approx([0, 0, 0, 5, 5])
    assert "only for foundings on plain days" in about_warmth(design)
    _, _, design = lined(study_of(folder, WHOLE, ALL, 'adjust = ["shelf_temperature"]\n'))
    assert not design.warm.any()
    assert "not adjusted by the mean warmth" in about_warmth(design)


def test_days_from_the_flight_to_the_shelf_pass_as_days_at_the_reference(folder) -> None:
    # Day 0 is the flight, two days before the queens came onto the shelf and its log.
    study = study_of(folder, WHOLE, ALL, 'clock = "flight"\n', flown=2)
    past, exposure, _ = lined(study)
    assert set(past.foundings["closed"]) == {2.0}
    clock = past.warmth.clocks["K1-01"]
    assert clock.low[:3].tolist() == [22.5, 22.5, 17.0]
    at_42 = float(np.exp(clock.log_warmed(42.0, 10.0)[0]))
    assert at_42 == pytest.approx(2 + 40 * 10 / 12.5)
    assert exposure.records.shape[1] == at.WARM_RECORD_WIDTH
    # The log of a day 0 on the flight would have been asked for in vain.
    setup = warmth_of(study_of(folder, WHOLE, ALL), history(study_of(folder, WHOLE, ALL)))
    at_42 = float(np.exp(setup.clocks["K1-01"].log_warmed(42.0, 10.0)[0]))
    assert at_42 == pytest.approx(42 * 10 / 12.5)


def test_a_log_need_only_reach_to_the_last_look_in_use(folder) -> None:
    study = study_of(folder, WHOLE, ALL)
    past = history(study)
    last = pd.Timestamp(START + dt.timedelta(days=59))
    short = study.temperatures[study.temperatures["date"] <= last]
    assert not warmth_of(replace(study, temperatures=short), past).clocks
    horizon = replace(study, temperatures=short)
    cut = replace(past, foundings=past.foundings.assign(end=40.0, looked_to=40.0, first_by=np.inf))
    assert len(warmth_of(horizon, cut).clocks) == 4


def test_beyond_the_log_warmth_goes_on_as_it_was_on_average() -> None:
    low = np.array([10.0] * 20 + [20.0] * 20)
    clock = WarmClock(low, low + 6.0, 24.0)
    warm = np.exp(clock.log_warmed([20.0, 40.0, 80.0], 8.0)[0])
    assert warm == pytest.approx(np.array([20 * 5, 20 * 20, 40 * 20]) / 16)
    assert math.exp(clock.log_pace(8.0)) == pytest.approx(10 / 16)
    assert thresholds(24.0) == (4.0, 20.0)
    assert thresholds(19.0) == (4.0, 16.0)


def test_simulated_brood_grows_by_the_hour_and_the_clock_agrees() -> None:
    shelves = Shelves((19.0, 26.0), swing=5.0, wander=2.0)
    weather = shelves.drawn(160, dt.date(2025, 5, 10), np.random.default_rng(2))
    need, shelf, start = np.array([20.0, 41.0, np.inf]), np.array([0, 1, 1]), np.array([5, 0, 0])
    day = weather.grown(need, shelf, start, 14.0)
    for i in (0, 1):
        clock = WarmClock(
            weather.low[shelf[i], start[i] :], weather.high[shelf[i], start[i] :], 22.5
        )
        # hours against the area of a sine, and within a day warmth runs evenly on the clock
        warmed = float(np.exp(clock.log_warmed(day[i], 14.0)[0]))
        assert warmed == pytest.approx(need[i], abs=0.7)
        other = float(np.exp(clock.log_warmed(day[i], 10.0)[0]))
        assert abs(other - need[i]) > 0.7 or i == 1
    assert day[2] == np.inf
    steady = Weather(np.full((1, 90), 20.0), np.full((1, 90), 20.0), 25.0)
    grown = steady.grown(np.array([30.0]), np.array([0]), np.array([3]), 10.0)
    assert grown[0] == pytest.approx(30 * 15 / 10, abs=1 / 24 + 1e-9)


def test_a_simulated_season_on_shelves_reads_back_as_one_on_degree_days(tmp_path) -> None:
    truth = Truth({"Lasius": GenusTruth(within_days=0.1)}, threshold=13.0)
    design = Design(foundings=24, horizon=150, shelves=Shelves((20.0, 25.0)))
    made = simulate_study(design, truth, 4)
    made.write(tmp_path / "s")
    study = read_study(tmp_path / "s", today=dt.date(2026, 6, 1))
    assert len(warmth_of(study, history(study)).clocks) == 24
    fates = made.fates.set_index("founding")["first_worker"]
    shelf = study.foundings.set_index("founding")["shelf"]
    day = fates[np.isfinite(fates)].groupby(shelf).median()
    assert day["S1"] > 1.3 * day["S2"]
    assert Truth.from_json(truth.as_json()).threshold == 13.0
    plain = simulate_study(replace(design, shelves=None), truth, 4)
    assert "temperatures.csv" not in plain.sheets
    assert "shelf" not in plain.sheets["foundings.csv"]


def test_replicates_get_the_log_of_each_founding_and_none_where_there_is_none(folder) -> None:
    log = WHOLE.replace("S2", "S3")
    past, _, _ = lined(study_of(folder, log, ("S1", "S2", "S3", "S1")))
    plan, _ = calendar(past)
    assert plan.log_start.tolist() == [0, 61, 61, 122, 183]
    assert plan.low[0] == 17.0
    assert plan.low[61] == 22.0
    assert plan.reference == pytest.approx((20 + 25 + 20) / 3)
    bare, _ = calendar(replace(past, warmth=None))
    assert bare.log_start.size == 0
