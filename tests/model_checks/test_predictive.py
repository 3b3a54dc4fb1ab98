"""Replicated studies: held against the matrix exponential, and against seasons of a known truth."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from scipy.linalg import expm

from cohort.history import History, history
from cohort.likelihood import layout as at
from cohort.model import replicated_curves
from cohort.model.replicated import Seen
from cohort.model.replicated import calendar as calendar_of
from cohort.model.statistics_by_group import Key, groups, statistics
from cohort.model.tallies import tallies
from cohort.nonparametric import curves
from cohort.predict import posterior_predictive
from cohort.simulate.season import simple_study
from cohort.simulate.truth import GenusTruth
from cohort.study import read_study

DRAWS = 20_000


def shared(tau: float, sigma: float) -> np.ndarray:
    row = np.zeros(at.SHARED_WIDTH)
    row[at.WITHIN_DAYS], row[at.SIGMA], row[at.LOADING] = tau, sigma, 1.0
    return row


def rates(truth: GenusTruth, size: int) -> np.ndarray:
    """The kernel's numbers for one founding of a known truth."""
    row = np.zeros(at.FOUNDING_WIDTH)
    row[at.HAZARD1] = truth.log_hazard
    row[at.TOGETHER] = truth.together if size >= 2 else 0.0
    row[at.HAZARD2], row[at.RIVALRY] = truth.log_hazard_workers, truth.rivalry
    row[at.LAST_FIGHT] = truth.last_fight
    row[at.LOG_DAY] = truth.log_median_day + (truth.multi_days if size >= 2 else 0.0)
    row[at.FERTILE] = 1 - (1 - truth.mated) ** size
    return row


def plan(days: list[float], size: int, **more: object) -> posterior_predictive.Calendar:
    """The calendar of one founding."""
    values = {
        "start": [0], "stop": [len(days)], "day": days, "taken": [0] * len(days), "size": [size],
        "entry": [0.0], "entry_queens": [size], "entry_workers": [False], "sought": [math.inf],
    } | more  # fmt: skip
    floats = {"day", "entry", "sought"}
    return posterior_predictive.Calendar(**{
        k: np.array(v, bool if k == "entry_workers" else float if k in floats else np.int64)
        for k, v in values.items()
    })  # fmt: skip


def replicated(
    truth: GenusTruth, calendar: posterior_predictive.Calendar, sigma: float = 0.0
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    par = np.broadcast_to(rates(truth, int(calendar.size[0])), (DRAWS, 1, at.FOUNDING_WIDTH)).copy()
    all_shared = np.broadcast_to(shared(truth.within_days, sigma), (DRAWS, at.SHARED_WIDTH)).copy()
    return posterior_predictive.posterior_predictive(
        par, all_shared, calendar, np.random.default_rng(4)
    )


def generator(lone: float, company: float, theta: float) -> np.ndarray:
    """Rates between 3, 2, 1, 0 living queens, rows from."""
    q = np.zeros((4, 4))
    q[1, 0] = lone
    q[2, 1], q[2, 0] = 2 * company * (1 - theta), 2 * company * theta
    q[3, 2] = 3 * company
    return q - np.diag(q.sum(axis=1))


def test_counts_before_and_after_workers_follow_the_matrix_exponential() -> None:
    # Workers on day 40, all but exactly (spread .0005): then the path is two plain Markov chains.
    truth = GenusTruth(
        log_hazard=math.log(0.01), together=0.6, log_hazard_workers=math.log(0.012), rivalry=1.2,
        last_fight=0.3, log_median_day=math.log(40.0), multi_days=0.0, within_days=5e-4, mated=1.0,
    )  # fmt: skip
    _, alive, first = replicated(truth, plan([21.0, 45.0, 80.0], 3))
    one = generator(0.01, 0.01 * math.exp(0.6), 0.0)
    two = generator(0.012, 0.012 * math.exp(1.2), 0.3)
    start = np.array([0.0, 0.0, 0.0, 1.0])
    wrong = start @ expm(one * 80)
    for look, want in (
        (0, start @ expm(one * 21)),
        (1, start @ expm(one * 40) @ expm(two * 5)),
        (2, start @ expm(one * 40) @ expm(two * 40)),
    ):
        share = np.bincount(alive[:, look], minlength=4) / DRAWS
        assert share == pytest.approx(want, abs=4 * 0.5 / math.sqrt(DRAWS))
    assert np.abs(share - wrong).max() > 0.05
    dead_before = (start @ expm(one * 40))[0]
    assert np.isfinite(first).mean() == pytest.approx(1 - dead_before, abs=0.012)
    assert set(np.unique(first[np.isfinite(first)])) == {45.0}


def test_a_founding_without_a_mated_queen_has_no_workers() -> None:
    truth = GenusTruth(log_hazard=-30.0, log_hazard_workers=-30.0, mated=0.6, within_days=0.01)
    _, alive, first = replicated(truth, plan([70.0], 1))
    assert alive.min() == 1
    assert np.isfinite(first).mean() == pytest.approx(0.6, abs=0.014)


def test_queens_taken_out_leave_and_blank_looks_see_no_workers() -> None:
    truth = GenusTruth(log_hazard=-30.0, log_hazard_workers=-30.0, mated=1.0, within_days=0.01)
    risk, alive, first = replicated(
        truth, plan([30.0, 60.0, 90.0], 3, taken=[0, 2, 0], sought=[55.0])
    )
    assert (risk == [3, 1, 1]).all()
    assert (alive == [3, 1, 1]).all()
    assert np.isinf(first).all()


def test_a_late_entry_is_drawn_given_the_state_at_entry() -> None:
    """Entering with one of three alive tells of a frail founding: it must show afterwards."""
    truth = GenusTruth(log_hazard=math.log(0.01), mated=1.0, log_median_day=math.log(500.0))
    late = {"entry": [60.0], "entry_queens": [1]}
    _, alive, _ = replicated(truth, plan([100.0], 3, **late), sigma=1.0)
    z, weight = np.polynomial.hermite_e.hermegauss(40)
    hazard = 0.01 * np.exp(z)
    arrive = np.array([(expm(generator(h, h, 0.0) * 60))[3, 1] for h in hazard])
    lives = np.exp(-40 * hazard)
    want = (weight * arrive * lives).sum() / (weight * arrive).sum()
    naive = (weight * lives).sum() / weight.sum()
    assert (alive[:, 0] == 1).mean() == pytest.approx(want, abs=0.015)
    assert abs(naive - want) > 0.03


def season(tmp_path: Path, truth: GenusTruth, n: int, seed: int) -> History:
    made = simple_study(n, {"Lasius": truth}, seed=seed)
    return history(read_study(made.write(tmp_path / f"study-{seed}")))


TRUTH = GenusTruth(log_hazard=math.log(0.006), rivalry=2.0, together=0.5, frailty=0.6)


def held(past: History, truth: GenusTruth, draws: int = 1000) -> dict[Key, float]:
    """Mid-p share of replicates below what was seen, at fixed parameters."""
    calendar, seen = calendar_of(past)
    one = np.stack([rates(truth, int(k)) for k in calendar.size])
    par = np.broadcast_to(one, (draws, *one.shape)).copy()
    all_shared = np.broadcast_to(shared(truth.within_days, truth.frailty), (draws, at.SHARED_WIDTH))
    made = posterior_predictive.posterior_predictive(
        par, all_shared.copy(), calendar, np.random.default_rng(9)
    )
    of = groups(past.foundings)
    drawn = statistics(tallies(calendar, Seen(*made)), of)
    observed = statistics(tallies(calendar, seen), of)
    return {
        k: float((v < observed[k][0]).mean() + 0.5 * (v == observed[k][0]).mean())
        for k, v in drawn.items()
        if np.isfinite(observed[k][0])
    }


def test_seasons_made_event_by_event_look_like_their_replicates(tmp_path: Path) -> None:
    places = [held(season(tmp_path, TRUTH, 60, seed), TRUTH) for seed in range(12)]
    for key in places[0]:
        mean = np.mean([p[key] for p in places])
        assert 0.5 - 4 * 0.29 / math.sqrt(12) < mean < 0.5 + 4 * 0.29 / math.sqrt(12), key


def test_a_model_without_rivalry_is_found_out(tmp_path: Path) -> None:
    wrong = GenusTruth(**{**TRUTH.__dict__, "rivalry": 0.0})
    past = season(tmp_path, TRUTH, 200, 3)
    assert 0.001 < held(past, TRUTH)["losses_after_workers", "way", "multi"] < 0.999
    assert held(past, wrong)["losses_after_workers", "way", "multi"] > 0.999


def test_what_was_seen_makes_the_same_curve_as_the_table_of_curves(tmp_path: Path) -> None:
    past = season(tmp_path, TRUTH, 60, 1)
    calendar, seen = calendar_of(past)
    table = curves(past, seed=1, resamples=10)
    table = table[(table["curve"] == "queen_survival") & (table["genus"] == "all")]
    for arm, mine in (("single", calendar.size == 1), ("multi", calendar.size > 1)):
        ours = replicated_curves.survival(calendar, seen, mine, past.horizon)[0]
        theirs = table[table["arm"] == arm]
        assert ours[theirs["day"].astype(int)] == pytest.approx(theirs["estimate"].to_numpy())
        assert ours[-1] < 1.0


def test_first_workers_seen_make_the_same_curve_as_the_table_of_curves(tmp_path: Path) -> None:
    """And the replicates of the true model lie about it; those of one with late workers do not."""
    past = season(tmp_path, TRUTH, 60, 1)
    calendar, seen = calendar_of(past)
    table = curves(past, seed=1, resamples=10)
    table = table[(table["curve"] == "first_worker") & (table["genus"] == "all")]
    late = GenusTruth(**{**TRUTH.__dict__, "log_median_day": math.log(90.0)})
    for arm, mine in (("single", calendar.size == 1), ("multi", calendar.size > 1)):
        ours = replicated_curves.first_worker(calendar, seen, mine, past.horizon)[0]
        theirs = table[table["arm"] == arm]
        assert ours[theirs["day"].astype(int)] == pytest.approx(theirs["estimate"].to_numpy())
        assert ours[-1] > 0.5
        for truth, inside in ((TRUTH, True), (late, False)):
            one = np.stack([rates(truth, int(k)) for k in calendar.size])
            par = np.broadcast_to(one, (300, *one.shape)).copy()
            frail = shared(truth.within_days, truth.frailty)
            all_shared = np.broadcast_to(frail, (300, at.SHARED_WIDTH)).copy()
            made = posterior_predictive.posterior_predictive(
                par, all_shared, calendar, np.random.default_rng(9)
            )
            drawn = replicated_curves.first_worker(calendar, Seen(*made), mine, past.horizon)
            low, high = np.quantile(drawn[:, 60], [0.005, 0.995])
            assert (low <= ours[60] <= high) == inside


def test_the_calendar_of_a_lost_founding_goes_on_as_long_as_it_could_have(tmp_path: Path) -> None:
    past = season(tmp_path, TRUTH, 60, 2)
    calendar, seen = calendar_of(past)
    lost = past.foundings["end_kind"].eq("all lost").to_numpy()
    assert lost.any()
    last = np.maximum.reduceat(calendar.day, calendar.start)
    assert last[lost].min() == past.horizon
    step = np.diff(calendar.day)
    step[calendar.start[1:] - 1] = 1.0
    assert (step > 0).all()
    assert (seen.at_risk.sum(), seen.alive.sum()) == (
        past.intervals["at_risk"].sum(), past.intervals["alive"].sum(),
    )  # fmt: skip
