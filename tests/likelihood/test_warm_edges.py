"""The warm clock in the kernel: identities with plain days, what lies between thresholds, back."""

import math

import numpy as np
import pytest
from by_rows import Rates
from hypothesis import given
from hypothesis import strategies as st
from scenes import lived, packed_sets, par_of, shared_of, tables_of

from cohort.likelihood import layout as at
from cohort.likelihood.study import marginal_loglik, study_loglik
from cohort.likelihood.warm_tables import warm_tables
from cohort.likelihood.warmed import day_of, warmed
from cohort.predict import posterior_predictive
from cohort.warmth import WarmClock, single_sine, thresholds

RATES = Rates(
    level1=0.005, ratio1=1.3, level2=0.003, ratio2=3.0, theta=0.2, log_day=math.log(40.0),
    tau=0.12, phi=0.9,
)  # fmt: skip
REFERENCE = 24.0


def steady(temperature, days=170):
    return WarmClock(np.full(days, temperature), np.full(days, temperature), REFERENCE)


@pytest.fixture(scope="module")
def study():
    days = np.arange(7, 161, 7)
    sets = lived(8, 1, RATES, days, 1) + lived(8, 3, RATES, days, 2)
    return tables_of(packed_sets(sets, cell=2.0)), par_of(RATES, 16), shared_of(RATES)


def on_clock(study, clock, threshold, log_day=None):
    (records, rows, nodes), par, shared = study
    wide, more = warm_tables(records, nodes, [clock] * len(par))
    own = par.copy()
    own[:, at.THRESHOLD] = threshold
    own[:, at.LOG_DAY] = par[:, at.LOG_DAY] if log_day is None else log_day
    return study_loglik(own, shared, wide, rows, more)[0]


@pytest.mark.parametrize("threshold", [4.0, 9.7, 12.0, 18.3, 20.0])
def test_a_shelf_at_the_reference_counts_plain_days(study, threshold):
    tables, par, shared = study
    plain = study_loglik(par, shared, *tables)[0]
    assert on_clock(study, steady(REFERENCE), threshold) == pytest.approx(plain, abs=1e-9)
    assert abs(on_clock(study, steady(REFERENCE + 1.0), threshold) - plain) > 1e-2


@pytest.mark.parametrize(("temperature", "threshold"), [(27.0, 13.1), (21.0, 8.0), (22.0, 15.5)])
def test_another_steady_temperature_only_moves_the_mean_day(study, temperature, threshold):
    tables, par, shared = study
    shift = math.log((REFERENCE - threshold) / (temperature - threshold))
    moved = par.copy()
    moved[:, at.LOG_DAY] += shift
    want = study_loglik(moved, shared, *tables)[0]
    got = on_clock(study, steady(temperature), threshold)
    assert got == pytest.approx(want, abs=1e-9)
    by_degrees = par.copy()  # days in proportion to the temperature itself: no threshold
    by_degrees[:, at.LOG_DAY] += math.log(REFERENCE / temperature)
    assert abs(study_loglik(by_degrees, shared, *tables)[0] - got) > 0.1


def edge_table(clock, days):
    """A table of one edge per day: its log, then what the warm clock needs."""
    days = np.asarray(days, float)
    records = np.zeros((len(days), at.RECORD_WIDTH))
    records[:, at.LOG_END] = np.log(days)
    return warm_tables(records, np.zeros((0, at.NODE_WIDTH)), [clock])[0]


def warmed_by(table, row, threshold):
    return warmed(table, row, at.LOG_END, at.WARM_RECORD, at.WARM_END, threshold)


def shelves(rng, count):
    """Logs from cool to hot, steady to wild."""
    for _ in range(count):
        days = np.arange(120)
        season = rng.uniform(0, 4) * np.sin(2 * np.pi * (days + rng.uniform(0, 365)) / 365)
        wander = rng.normal(0, rng.uniform(0, 2), len(days))
        middle = rng.uniform(17, 28) + season + wander
        half = rng.uniform(0, 7) * rng.uniform(0.6, 1.4, len(days))
        yield WarmClock(middle - half, middle + half, REFERENCE)


def test_between_the_thresholds_kept_the_cubic_is_close():
    rng = np.random.default_rng(5)
    gaps, gradient = [], []
    for clock in shelves(rng, 60):
        table = edge_table(clock, [20.0, 40.0, 110.0])
        for level in np.linspace(*thresholds(REFERENCE), 65):
            exact, slope = clock.log_warmed([20.0, 40.0, 110.0], level)
            for row in range(3):
                if math.exp(exact[row]) < 0.3 * (20.0, 40.0, 110.0)[row]:
                    continue  # so cold that first workers are out of the question
                value, at_value = warmed_by(table, row, level)
                gaps.append(abs(value - exact[row]))
                gradient.append(abs(at_value - slope[row]))
    assert len(gaps) > 5000
    assert np.mean(gaps) < 1e-4
    assert np.quantile(gaps, 0.99) < 1e-3
    assert max(gaps) < 1e-2
    assert np.quantile(gradient, 0.99) < 5e-3


@given(level=st.floats(4.01, 19.99), seed=st.integers(0, 30))
def test_value_and_slope_between_thresholds_belong_to_one_curve(level, seed):
    clock = next(iter(shelves(np.random.default_rng(seed), 1)))
    table = edge_table(clock, [33.0])
    _, slope = warmed_by(table, 0, level)
    up, down = (warmed_by(table, 0, level + d)[0] for d in (1e-6, -1e-6))
    assert slope == pytest.approx((up - down) / 2e-6, rel=1e-4, abs=1e-4)


def test_day_0_and_a_shelf_too_cold_to_grow_anything():
    cold = steady(10.0)
    table = edge_table(cold, [30.0])
    assert warmed_by(table, 0, 16.0) == (math.log(1e-4), 0.0)
    table[0, at.LOG_END] = -745.0
    assert warmed_by(table, 0, 8.0) == (-745.0, 0.0)
    beyond = warmed_by(edge_table(steady(22.0), [30.0]), 0, 25.0)  # held at the highest kept
    assert beyond[0] == pytest.approx(math.log(30.0 * 2 / 4))
    assert beyond[1] == 0.0


@given(need=st.floats(1.0, 150.0), level=st.floats(4.0, 16.0), seed=st.integers(0, 30))
def test_the_day_of_a_warmed_day_is_its_inverse(need, level, seed):
    clock = next(iter(shelves(np.random.default_rng(seed), 1)))
    unit = REFERENCE - level
    on = day_of(need, clock.low, clock.high, 0, len(clock.low), unit, level)
    assert float(clock.log_warmed(on, level)[0]) == pytest.approx(math.log(need), abs=1e-9)


def test_days_of_several_foundings_lie_behind_one_another():
    low = np.concatenate([np.full(50, 4.0), np.full(90, 22.0)])
    high = low + 4.0
    assert day_of(30.0, low, high, 50, 140, 12.0, 12.0) == pytest.approx(30.0)
    assert day_of(120.0, low, high, 50, 140, 12.0, 12.0) == pytest.approx(120.0)  # beyond the log
    assert day_of(30.0, low, high, 0, 50, 12.0, 12.0) == np.inf
    assert single_sine(22.0, 26.0, 12.0) == pytest.approx(12.0)


def test_replicates_have_their_first_workers_by_the_log():
    """A cool month, then warmth: by hand, above 12 C and in days at 24 C."""
    low = np.concatenate([np.full(30, 14.0), np.full(120, 26.0)])
    log = {"low": low, "high": low + 4.0, "log_start": np.array([0, 150])}
    par = np.zeros((50, 1, at.FOUNDING_WIDTH))
    par[..., at.HAZARD1] = par[..., at.HAZARD2] = -30.0
    par[..., at.LOG_DAY], par[..., at.FERTILE] = math.log(40.0), 1.0
    par[..., at.THRESHOLD] = 12.0
    shared = np.tile(shared_of(RATES.but(tau=1e-6)), (50, 1))
    days = np.arange(1.0, 100.0)
    plan = {
        "start": np.array([0]), "stop": np.array([99]), "day": days,
        "taken": np.zeros(99, np.int64), "size": np.array([1]), "entry": np.zeros(1),
        "entry_queens": np.array([1]), "entry_workers": np.zeros(1, bool),
        "sought": np.full(1, np.inf),
    }  # fmt: skip

    def first(**more):
        calendar = posterior_predictive.Calendar(**plan, **more)
        return posterior_predictive.posterior_predictive(
            par, shared, calendar, np.random.default_rng(1)
        )[2]

    # 30 days of 4 degree-days leave 40 x 12 - 120 = 360 of 16 a day: day 52.5
    assert (first(**log, reference=24.0) == 53.0).all()
    assert set(np.unique(first())) <= {40.0, 41.0}


def test_the_marginal_likelihood_runs_on_the_same_clock(study):
    (records, rows, nodes), par, shared = study
    wide, more = warm_tables(records, nodes, [steady(21.0)] * len(par))
    own = par.copy()
    own[:, at.THRESHOLD] = 10.0
    got = marginal_loglik(own[None], shared[None], wide, rows, more)[0]
    own[:, at.LOG_DAY] += math.log(14 / 11)
    want = marginal_loglik(own[None], shared[None], records, rows, nodes)[0]
    assert got == pytest.approx(want, abs=1e-8)
