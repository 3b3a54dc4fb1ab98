"""Degree-days against printed tables, thermal constants against published ones, shelf logs."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from cohort import warmth
from cohort.base.errors import SheetError, StudyError
from cohort.history.warmed import warm_clocks
from cohort.study import Study, read_study

# Zalom, Goodell, Wilson, Barnett and Bentley 1983, Degree-days: the calculation and use of heat
# units in pest management, table 7; lower threshold 55 F, upper 90 F, single sine.
ZALOM = [
    (96, 110, 35.0), (91, 105, 35.0), (45, 54, 0.0), (60, 80, 15.0), (75, 88, 26.5),
    (50, 82, 11.85), (45, 70, 5.31), (60, 100, 22.82), (75, 95, 28.91), (50, 101, 18.95),
    (48, 95, 16.96),
]  # fmt: skip
# Esparto station, thresholds 55 and 93.9 F (same source of printed single-sine values).
ESPARTO = [(36, 67, 3.31), (33, 59, 0.68), (37, 59, 0.74), (38, 63, 1.99), (36, 58, 0.48)]


@pytest.mark.parametrize(("low", "high", "printed"), ZALOM)
def test_zalom_table_7(low: float, high: float, printed: float) -> None:
    digits = 0.005 if printed != round(printed, 1) else 0.05
    assert float(warmth.single_sine(low, high, 55, 90)) == pytest.approx(printed, abs=digits)


@pytest.mark.parametrize(("low", "high", "printed"), ESPARTO)
def test_esparto(low: float, high: float, printed: float) -> None:
    assert float(warmth.single_sine(low, high, 55, 93.9)) == pytest.approx(printed, abs=0.005)


def test_another_cut_off_or_plain_averaging_does_not_give_the_table() -> None:
    assert float(warmth.single_sine(60, 100, 55)) != pytest.approx(22.82, abs=0.5)
    assert float(warmth.averaging(45, 70, 55)) != pytest.approx(5.31, abs=0.5)
    assert warmth.averaging([60, 45, 30], [80, 70, 60], 55).tolist() == [15.0, 2.5, 0.0]


@given(
    low=st.floats(-5, 35), spread=st.floats(0, 25), lower=st.floats(0, 20), room=st.floats(0, 25)
)
def test_the_closed_form_is_the_area_under_the_sine(
    low: float, spread: float, lower: float, room: float
) -> None:
    high, upper = low + spread, lower + room
    mean, half = (low + high) / 2, spread / 2

    def warm(x: float) -> float:
        at = mean + half * math.sin(2 * math.pi * x)
        return min(max(at - lower, 0.0), upper - lower)

    kinks = []
    for limit in (lower, upper):
        if half > 0 and abs(limit - mean) < half:
            x = math.asin((limit - mean) / half) / (2 * math.pi)
            kinks += [x % 1, (0.5 - x) % 1]
    area = quad(warm, 0, 1, points=sorted(set(kinks)) or None, limit=200)[0]
    assert float(warmth.single_sine(low, high, lower, upper)) == pytest.approx(area, abs=1e-6)


def test_porter_1988_gives_the_published_constants() -> None:
    """Solenopsis invicta, rate -0.052707373 + 0.002880184 T (Porter 1988, via Jarosik 2011)."""
    fire = warmth.ThermalConstant.from_rate(-0.052707373, 0.002880184)
    assert fire.threshold == pytest.approx(18.30, abs=0.005)
    assert fire.degree_days == pytest.approx(347.2, abs=0.05)
    assert fire.days(25) == pytest.approx(51.8, abs=0.05)
    assert fire.days(28) == pytest.approx(35.8, abs=0.05)
    assert fire.days(18) == math.inf
    step = (math.log(fire.days(25.001)) - math.log(fire.days(24.999))) / 0.002
    assert fire.log_days_per_degree(25) == pytest.approx(step, rel=1e-5)
    assert fire.log_days_per_degree(25) == pytest.approx(-0.149, abs=0.0005)
    centre, sd = warmth.LOG_DAYS_PER_DEGREE
    assert abs(fire.log_days_per_degree(25) - centre) < 2 * sd
    with pytest.raises(ValueError, match="rise"):
        warmth.ThermalConstant.from_rate(0.1, -0.01)


def test_linepithema_takes_44_or_79_days_at_26() -> None:
    """445.4 degree-days above 15.9 C, or 599.5 above 18.4 C: two studies of one species."""
    assert round(warmth.ThermalConstant(15.9, 445.4).days(26)) == 44
    assert round(warmth.ThermalConstant(18.4, 599.5).days(26)) == 79


DAYS = 40
START = dt.date(2026, 5, 1)


def log(
    shelf: str, every: int = 1, days: int = DAYS, first: int = 0, hole: range = range(0)
) -> str:
    lines = []
    for d in range(first, days + 1, every):
        if d in hole:
            continue
        day = START + dt.timedelta(days=d)
        lines.append(f"{shelf},{day},{20 + d % 3},{26 + d % 3}")
    return "\n".join(lines) + "\n"


def study_with(folder, today: dt.date, temperatures: str, shelves=("S1", "S1")) -> Study:
    folder.put("foundings.csv", "founding,genus,started,queens,shelf\n" + "".join(
        f"K1-0{i + 1},Lasius,2026-05-01,{2 * i + 1},{s}\n" for i, s in enumerate(shelves)
    ))  # fmt: skip
    folder.put("checks.csv", "founding,date,queens_alive,workers\n" + "".join(
        f"K1-0{i + 1},{START + dt.timedelta(days=d)},{2 * i + 1},0\n"
        for i in range(len(shelves)) for d in (4, 20, DAYS)
    ))  # fmt: skip
    folder.put("temperatures.csv", "shelf,date,min_c,max_c\n" + temperatures)
    return read_study(folder.path, today=today)


def test_a_daily_log_covers_and_adds_up(folder, today) -> None:
    study = study_with(folder, today, log("S1"))
    cover = warmth.coverage(study)
    assert cover["covered"].all()
    assert (cover["why"] == "").all()
    table = warmth.degree_days(study.temperatures, 18.0)
    assert len(table) == DAYS + 1
    # 20/26, 21/27, 22/28 in turn: always above 18, so the mean counts: 5, 6, 7 degree-days
    assert table["total"].iloc[2] == pytest.approx(18.0)
    assert table["total"].iloc[-1] == pytest.approx(18.0 * 13 + 5.0 + 6.0)
    plain = warmth.degree_days(study.temperatures, 18.0, method="average")
    assert plain["total"].to_numpy() == pytest.approx(table["total"].to_numpy())
    assert warmth.degree_days(study.temperatures, 25.0)["total"].iloc[-1] > 1.2 * (
        warmth.degree_days(study.temperatures, 25.0, method="average")["total"].iloc[-1] + 1
    )


@pytest.mark.parametrize(
    ("temperatures", "why"),
    [
        (log("S1", every=7, days=42), "rows that span up to 7 days"),
        (log("S1", hole=range(10, 12)), "rows that span up to 3 days"),
        (log("S1", hole=range(10, 30)), "hole of 21 days after 2026-05-10"),
        (log("S1", first=3), "begins on 2026-05-04"),
        (log("S1", days=30), "ends on 2026-05-31"),
        (log("S1").replace("S1", "S2"), "shelf S1 has no log"),
    ],
)  # fmt: skip
def test_what_is_not_covered_bears_a_reason(folder, today, temperatures: str, why: str) -> None:
    cover = warmth.coverage(study_with(folder, today, temperatures))
    assert not cover["covered"].any()
    assert why in cover["why"].iloc[0]


def test_weekly_rows_adjust_but_never_drive_degree_days(folder, today) -> None:
    study = study_with(folder, today, log("S1", every=7, days=42), shelves=("S1", ""))
    with pytest.raises(StudyError, match="spans 7 days"):
        warmth.degree_days(study.temperatures, 18.0)
    mean = warmth.shelf_temperature(study)
    # rows of days 0, 7, 14, ... 42 are 23, 24, 25, 23, ...; day 0 speaks for itself, the others
    # for the seven days up to them: 23 + 7 (24 + 25 + 23 + 24 + 25) + 5 x 23 up to day 40
    assert mean["K1-01"] == pytest.approx((23 + 7 * 121 + 5 * 23) / 41)
    assert np.isnan(mean["K1-02"])
    assert warmth.centred(mean).tolist() == [0.0, 0.0]
    assert warmth.coverage(study)["why"].iloc[1] == "no shelf is noted"


def test_warmth_of_two_shelves_is_told_apart(folder, today) -> None:
    text = log("S1") + log("S2").replace(",26", ",36")
    mean = warmth.shelf_temperature(study_with(folder, today, text, shelves=("S1", "S2")))
    assert mean["K1-02"] > mean["K1-01"]
    off = warmth.centred(mean)
    assert off.sum() == pytest.approx(0.0)
    assert off[1] > 0


def test_a_thin_log_gives_no_mean(folder, today) -> None:
    mean = warmth.shelf_temperature(study_with(folder, today, log("S1", days=15)))
    assert mean.isna().all()


def test_a_log_in_fahrenheit_is_refused_by_the_audit(folder, today) -> None:
    warm = "\n".join(
        f"S1,{START + dt.timedelta(days=d)},{68 + d % 3},{79 + d % 3}" for d in range(DAYS)
    )
    with pytest.raises(SheetError) as error:
        study_with(folder, today, warm + "\n")
    assert "Fahrenheit" in str(error.value)
    assert "(F - 32) x 5 / 9" in " ".join(f.remedy for f in error.value.findings)


def test_rows_without_a_reading_are_passed_over() -> None:
    date = pd.to_datetime(["2026-05-01", "2026-05-02"])
    rows = pd.DataFrame(
        {"shelf": "S", "date": date, "min_c": [20.0, np.nan], "max_c": [24.0, 25.0]}
    )
    assert len(warmth.degree_days(rows, 10.0)) == 1


def test_at_a_constant_temperature_the_warmed_clock_is_a_steady_one() -> None:
    steady = warmth.WarmClock(np.full(60, 22.0), np.full(60, 22.0), 25.0)
    value, slope = steady.log_warmed([1.0, 10.0, 33.5, 70.0], 12.0)
    assert np.exp(value) == pytest.approx(np.array([1.0, 10.0, 33.5, 70.0]) * 10 / 13)
    assert slope == pytest.approx(-1 / 10 + 1 / 13)
    at_reference = warmth.WarmClock(np.full(60, 25.0), np.full(60, 25.0), 25.0)
    assert np.exp(at_reference.log_warmed([17.0], 9.0)[0]) == pytest.approx([17.0])
    with pytest.raises(ValueError, match="below the reference"):
        steady.log_warmed([1.0], 25.0)


@given(threshold=st.floats(2, 22), seed=st.integers(0, 50))
def test_the_slope_in_the_threshold_is_exact(threshold: float, seed: int) -> None:
    rng = np.random.default_rng(seed)
    low = rng.uniform(14, 24, 40)
    clock = warmth.WarmClock(low, low + rng.uniform(1, 8, 40), 26.0)
    days = np.array([3.3, 12.0, 39.5])
    _, slope = clock.log_warmed(days, threshold)
    up, down = (clock.log_warmed(days, threshold + d)[0] for d in (1e-5, -1e-5))
    assert slope == pytest.approx((up - down) / 2e-5, rel=1e-3, abs=1e-4)


def test_the_warmed_day_adds_up_the_degree_days_of_the_log(folder, today) -> None:
    study = study_with(folder, today, log("S1"), shelves=("S1", ""))
    clocks = warm_clocks(study, reference=25.0)
    assert list(clocks) == ["K1-01"]
    table = warmth.degree_days(study.temperatures, 12.0)
    value, _ = clocks["K1-01"].log_warmed(np.arange(1, DAYS + 2), 12.0)
    assert np.exp(value) * 13.0 == pytest.approx(table["total"].to_numpy())
    mean = warmth.shelf_temperature(study)["K1-01"]
    assert warm_clocks(study)["K1-01"].reference == pytest.approx(mean)
    assert warm_clocks(study_with(folder, today, log("S1", every=7, days=42))) == {}
