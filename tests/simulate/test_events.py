"""The event simulator against closed forms worked by hand, each with a wrong variant that fails.

Sources: the exponential, log-normal and binomial laws (any handbook); for chains of more than
two states the matrix exponential of scipy (`scipy.linalg.expm`), which shares nothing with the
simulator. `agrees` wants a plain average within four Monte Carlo standard errors.
"""

import math

import numpy as np
import pytest
from scipy.linalg import expm
from scipy.stats import norm

from cohort.simulate.events import Paths, run
from cohort.simulate.summaries import summaries
from cohort.simulate.truth import GenusTruth, Truth, draw_truth
from cohort.terms.questions import READINGS

N = 100_000
STILL = math.log(1e-12)  # a log hazard at which nobody dies


def truth(**changes):
    plain = {"frailty": 0.0, "multi_days": 0.0, "mated": 1.0}
    return GenusTruth(**{**plain, **changes})


def agrees(share, value, n=N):
    return abs(share - value) < 4 * math.sqrt(max(value * (1 - value), 1e-9) / n)


def chain(size, lone, together, last_fight, days):
    """Chances of 0..size queens after `days`, by matrix exponential."""
    q = np.zeros((size + 1, size + 1))
    for m in range(2, size + 1):
        q[m, m - 1] = m * together
    if size >= 2:
        q[2, 1], q[2, 0] = 2 * together * (1 - last_fight), 2 * together * last_fight
    q[1, 0] = lone
    q -= np.diag(q.sum(axis=1))
    return expm(q * days)[size]


def gauss_hermite(n=41):
    x, w = np.polynomial.hermite_e.hermegauss(n)
    return x, w / w.sum()


def test_one_queen_lives_by_the_exponential_law():
    paths = run(N, 1, truth(log_hazard=math.log(0.01), mated=0.0), np.random.default_rng(1), 90.0)
    share = (paths.alive(60) == 1).mean()
    assert agrees(share, math.exp(-0.6))
    assert not agrees(share, math.exp(-0.6 * 1.05))


def test_levels_of_the_pieces_count_from_their_days():
    steps = (1.0, 0.5, 0.0, -1.0, 0.7)
    own = truth(log_hazard=math.log(0.004), founding_steps=steps, mated=0.0)
    paths = run(N, 1, own, np.random.default_rng(2), 100.0)
    days = np.array([7.0, 14.0, 21.0, 28.0, 20.0])  # up to day 90
    total = 0.004 * (days * np.exp(steps)).sum()
    assert agrees((paths.alive(90) == 1).mean(), math.exp(-total))
    assert not agrees((paths.alive(90) == 1).mean(), math.exp(-0.004 * 90))


def test_worker_pieces_count_from_the_first_worker():
    steps = (0.0, 1.0, 1.5, -0.5)
    own = truth(
        log_hazard=STILL,
        log_hazard_workers=math.log(0.006),
        worker_steps=steps,
        log_median_day=math.log(40.0),
        within_days=0.0,
    )
    paths = run(N, 1, own, np.random.default_rng(3), 120.0)
    total = 0.006 * (np.array([10.0, 20.0, 30.0, 5.0]) * np.exp(steps)).sum()  # 65 days
    share = (paths.alive(105) == 1).mean()
    assert agrees(share, math.exp(-total))
    from_day_0 = 0.006 * (np.array([10.0, 20.0, 30.0, 45.0]) * np.exp(steps)).sum()
    assert not agrees(share, math.exp(-from_day_0))


def test_founding_phase_has_no_last_fight_and_the_last_queen_is_safe_from_rivals():
    own = truth(log_hazard=math.log(0.003), together=math.log(7.4), mated=0.0, last_fight=0.9)
    paths = run(N, 3, own, np.random.default_rng(4), 48.0)
    got = np.bincount(paths.alive(48), minlength=4) / N
    right = chain(3, 0.003, 0.003 * 7.4, 0.0, 48)
    assert all(agrees(g, w) for g, w in zip(got, right, strict=True))
    fights = chain(3, 0.003, 0.003 * 7.4, 0.9, 48)
    assert not all(agrees(g, w) for g, w in zip(got, fights, strict=True))
    sticks = 1 - (1 - math.exp(-0.003 * 7.4 * 48)) ** 3  # the ratio stays on the last queen
    assert not agrees(1 - got[0], sticks)


def test_ratio_grows_by_the_doubling_beyond_two():
    own = truth(log_hazard=math.log(0.002), together=0.4, doubling=0.5, mated=0.0)
    paths = run(N, 5, own, np.random.default_rng(5), 60.0)
    ratio = math.exp(0.4 + 0.5 * math.log2(2.5))
    got = np.bincount(paths.alive(60), minlength=6) / N
    right = chain(5, 0.002, 0.002 * ratio, 0.0, 60)
    wrong = chain(5, 0.002, 0.002 * math.exp(0.4), 0.0, 60)
    assert all(agrees(g, w) for g, w in zip(got, right, strict=True))
    assert not all(agrees(g, w) for g, w in zip(got, wrong, strict=True))


def test_two_queens_with_workers_by_hand():
    """From 2: P(1) = (1-theta) 2R/(2R-h) (e^-ht - e^-2Rt) with R the hazard while together."""
    own = truth(
        log_hazard=STILL,
        log_hazard_workers=math.log(0.004),
        rivalry=1.2,
        last_fight=0.3,
        log_median_day=math.log(1e-3),
        within_days=0.0,
    )
    paths = run(N, 2, own, np.random.default_rng(6), 60.0)
    h, rate, t = 0.004, 0.004 * math.exp(1.2), 50.0
    two = math.exp(-2 * rate * t)
    one = 2 * rate / (2 * rate - h) * (math.exp(-h * t) - two)
    got = np.bincount(paths.alive(t), minlength=3) / N
    assert agrees(got[2], two)
    assert agrees(got[1], 0.7 * one)
    assert not agrees(got[1], one)
    assert agrees(got[0], 1 - two - 0.7 * one)


@pytest.mark.parametrize(("size", "seen"), [(1, 0), (2, 0), (3, 0), (3, 2)])
def test_share_that_can_have_workers_at_all(size, seen):
    own = truth(
        log_hazard=STILL,
        log_hazard_workers=STILL,
        mated=0.6,
        mating_seen=1.5,
        log_median_day=math.log(20.0),
        within_days=0.1,
    )
    known = np.full(N, seen)
    paths = run(N, size, own, np.random.default_rng(7), 60.0, seen=known)
    odds = 1.5 * math.exp(1.5)
    value = 1 - 0.4 ** (size - seen) * (1 - odds / (1 + odds)) ** seen
    share = np.isfinite(paths.first_worker).mean()
    assert agrees(share, value)
    assert (size, seen) == (1, 0) or not agrees(share, 0.6)


def test_first_worker_is_log_normal():
    own = truth(log_hazard=STILL, log_median_day=math.log(48.0), within_days=0.25, multi_days=-0.1)
    paths = run(N, 2, own, np.random.default_rng(8), 400.0)
    for share in (0.1, 0.5, 0.9):
        day = 48.0 * math.exp(-0.1 + 0.25 * norm.ppf(share))
        assert agrees((paths.first_worker <= day).mean(), share)
        assert not agrees((paths.first_worker <= day * math.exp(0.1)).mean(), share)


def test_no_queen_left_means_no_worker():
    """P(E) = integral f(e) exp(-h e) de for a lone mated queen."""
    own = truth(log_hazard=math.log(0.01), log_median_day=math.log(50.0), within_days=0.3)
    paths = run(N, 1, own, np.random.default_rng(9), 1000.0)
    x, w = gauss_hermite()
    value = float(w @ np.exp(-0.01 * 50.0 * np.exp(0.3 * x)))
    share = np.isfinite(paths.first_worker).mean()
    assert agrees(share, value)
    assert not agrees(share, 1.0)


def test_brood_of_a_dead_mated_queen_is_reared_by_the_others():
    own = truth(
        log_hazard=math.log(0.01), mated=0.3, log_median_day=math.log(50.0), within_days=0.1
    )
    paths = run(N, 2, own, np.random.default_rng(10), 300.0)
    only_the_dead_one = paths.mated[:, 0] & ~paths.mated[:, 1]
    widowed = only_the_dead_one & (paths.deaths[:, 0] < 30) & (paths.deaths[:, 1] > 120)
    assert widowed.sum() > 500
    assert np.isfinite(paths.first_worker[widowed]).all()
    neither = ~paths.mated.any(axis=1)
    assert not np.isfinite(paths.first_worker[neither]).any()


def test_mated_and_unmated_die_alike():
    own = truth(log_hazard=math.log(0.02), mated=0.7)
    paths = run(N, 3, own, np.random.default_rng(11), 60.0, seen=np.ones(N, dtype=int))
    seen = own.mated_if_seen()
    dead_first = np.isfinite(paths.deaths[:, 0])
    each = (seen + 2 * 0.7) / 3
    assert agrees(paths.mated[dead_first, 0].mean(), each, int(dead_first.sum()))
    assert not agrees(paths.mated[dead_first, 0].mean(), seen, int(dead_first.sum()))


def test_one_frailty_serves_both_phases():
    own = truth(
        log_hazard=math.log(0.006),
        log_hazard_workers=math.log(0.006),
        frailty=1.2,
        log_median_day=math.log(40.0),
        within_days=0.0,
    )
    paths = run(N, 1, own, np.random.default_rng(12), 100.0)
    x, w = gauss_hermite(80)
    once = float(w @ np.exp(-0.006 * 100 * np.exp(1.2 * x)))
    apart = float((w @ np.exp(-0.24 * np.exp(1.2 * x))) * (w @ np.exp(-0.36 * np.exp(1.2 * x))))
    share = (paths.alive(100) == 1).mean()
    assert agrees(share, once)
    assert not agrees(share, apart)


def test_keeper_and_flight_move_the_founding_phase_only():
    own = truth(
        log_hazard=math.log(0.005),
        log_hazard_workers=math.log(0.005),
        log_median_day=math.log(40.0),
        within_days=0.0,
    )
    paths = run(N, 1, own, np.random.default_rng(13), 100.0, shift=np.full(N, 0.8))
    share = (paths.alive(100) == 1).mean()
    assert agrees(share, math.exp(-0.2 * math.exp(0.8) - 0.3))
    assert not agrees(share, math.exp(-0.5 * math.exp(0.8)))


def test_a_queen_left_alone_by_a_gift_is_alone():
    own = truth(log_hazard=math.log(0.005), together=1.5, mated=0.0)
    at, one = np.full(N, 20.0), np.ones(N, dtype=int)
    paths = run(N, 2, own, np.random.default_rng(14), 80.0, taken_at=at, taken=one)
    h, rate = 0.005, 0.005 * math.exp(1.5)
    two = math.exp(-2 * rate * 20)
    one_at_20 = 2 * rate / (2 * rate - h) * (math.exp(-h * 20) - two)
    share = (paths.alive(80) == 1).mean()
    assert agrees(share, (two + one_at_20) * math.exp(-h * 60))
    assert not agrees(share, two * math.exp(-rate * 60) + one_at_20 * math.exp(-h * 60))
    assert agrees((paths.taken == 1).mean(), two)
    assert (paths.alive(80) >= 0).all()


def exact_outcomes(p, day=160.0):
    """Seen and lasting colony of three queens, and one; E integrated over its log-normal."""
    x, w = gauss_hermite(21)
    left = np.zeros(4)
    single = 0.0
    for node, weight in zip(x, w, strict=True):
        e = 48 * math.exp(0.12 * node)
        before = chain(3, 0.004, 0.004, 0.0, e)
        for m in (1, 2, 3):
            after = chain(m, 0.002, 0.002 * math.exp(1.9), 0.15, day - e)
            left[: m + 1] += weight * before[m] * after
        single += weight * math.exp(-0.004 * e - 0.002 * (day - e))
    lasting = sum(left[m] * (1 - (1 - p) ** m) for m in (1, 2, 3))
    return (1 - (1 - p) ** 3) * left[1:].sum(), lasting, p * single


@pytest.mark.parametrize("p", [0.6, 0.85, 0.95])
def test_lasting_colonies_of_three_queens(p):
    """h1 .004, lone .002, r 1.9, theta .15, log E ~ N(log 48, .12), day 160, no frailty."""
    own = truth(
        log_hazard=math.log(0.004),
        log_hazard_workers=math.log(0.002),
        rivalry=1.9,
        last_fight=0.15,
        log_median_day=math.log(48.0),
        within_days=0.12,
        mated=p,
    )
    table = summaries(run(N, 3, own, np.random.default_rng(15), 160.0), [160], after=[])
    value = table.set_index(["quantity", "reading"])["mean"]
    value = {name: value[name, "seen" if name == "chance_per_founding" else "alike"]
             for name in ("chance_per_founding", "chance_lasting")}  # fmt: skip
    seen, lasting, _ = exact_outcomes(p)
    assert agrees(value["chance_lasting"], lasting)
    assert agrees(value["chance_per_founding"], seen)
    assert not agrees(value["chance_lasting"], seen)  # an unmated survivor carries no colony


def test_who_dies_first_is_told_row_by_row():
    """Three queens, deaths on days 10 and 20; mated (in order of death): first, second, third."""
    deaths = np.tile([10.0, 20.0, np.inf], (4, 1))
    mated = np.array([[1, 0, 0], [1, 0, 1], [1, 1, 0], [1, 1, 1]], dtype=bool)
    none = np.zeros(4, dtype=np.int64)
    paths = Paths(deaths, np.full(4, 5.0), mated, np.full(4, np.inf), none, 100.0)
    at = {r: [paths.mated_alive(d, r).tolist() for d in (15.0, 25.0)] for r in READINGS}
    assert at["alike"] == [[0, 1, 1, 2], [0, 1, 0, 1]]
    assert at["seen"] == [[1, 2, 2, 2], [1, 1, 1, 1]]  # the unmated took the first deaths
    assert at["mated-first"] == [[0, 1, 1, 2], [0, 0, 0, 1]]  # the last to live, unmated but in one


def test_a_colony_as_seen_is_one_with_a_mated_queen_if_the_unmated_die_first():
    own = truth(mated=0.5, log_hazard=math.log(0.01), log_median_day=math.log(40.0))
    paths = run(5_000, 4, own, np.random.default_rng(19), 90.0)
    workers = paths.first_worker <= 90.0
    seen = workers & (paths.alive(90.0) > 0)
    assert np.array_equal(seen, workers & (paths.mated_alive(90.0, "seen") > 0))
    assert not np.array_equal(seen, workers & (paths.mated_alive(90.0, "mated-first") > 0))


def test_averages_have_their_names_days_and_errors():
    own = truth(log_hazard=math.log(0.01), mated=0.0)
    table = summaries(run(N, 1, own, np.random.default_rng(16), 150.0), [30, 60], horizon=60)
    days = table.set_index("quantity").loc["queen_days"]
    assert abs(days["mean"] - (1 - math.exp(-0.6)) / 0.01) < 4 * days["se"]
    lost = table[(table["quantity"] == "all_lost") & (table["day"] == 60)].iloc[0]
    assert lost["se"] == pytest.approx(math.sqrt(lost["mean"] * (1 - lost["mean"]) / N), rel=1e-3)
    nobody = table[table["quantity"] == "chance_one_left"]
    assert (nobody["foundings"] == 0).all()
    assert nobody["mean"].isna().all()


def test_clock_of_before_workers_stops_at_the_first_worker():
    own = truth(
        log_hazard=math.log(0.005),
        log_hazard_workers=math.log(0.05),
        rivalry=0.0,
        log_median_day=math.log(40.0),
        within_days=0.0,
        last_fight=0.0,
    )
    table = summaries(run(N, 2, own, np.random.default_rng(17), 190.0), [100], horizon=100)
    row = table[table["reading"] == ""].set_index(["quantity", "day"])
    stopped, ever = row.loc[("share_alive_before_workers", 100)], row.loc[("share_alive", 100)]
    assert abs(stopped["mean"] - math.exp(-0.2)) < 4 * stopped["se"]
    assert ever["mean"] < 0.2


def test_days_not_simulated_and_gifts_are_refused():
    own, rng = truth(), np.random.default_rng(18)
    paths = run(10, 2, own, rng, 100.0)
    with pytest.raises(ValueError, match="further than day 100"):
        summaries(paths, [30], horizon=60)
    gift = run(
        10,
        2,
        truth(log_hazard=STILL, mated=0.0),
        rng,
        100.0,
        taken_at=np.full(10, 5.0),
        taken=np.ones(10, dtype=int),
    )
    with pytest.raises(ValueError, match="no queen was taken out"):
        summaries(gift, [30], after=[])
    with pytest.raises(ValueError, match="kept all their queens"):
        gift.mated_alive(30.0, "mated-first")
    with pytest.raises(ValueError, match="at least one founding"):
        run(0, 1, own, rng)


def test_truth_refuses_what_cannot_be_and_survives_json():
    with pytest.raises(ValueError, match="mated is a share"):
        GenusTruth(mated=1.2)
    with pytest.raises(ValueError, match="frailty must not be negative"):
        GenusTruth(frailty=-0.1)
    with pytest.raises(ValueError, match="days 21-42"):
        GenusTruth(founding_steps=(0.0, 0.0, 0.1, 0.0, 0.0))
    with pytest.raises(ValueError, match="5 levels"):
        GenusTruth(founding_steps=(0.0,))
    drawn = draw_truth(["Lasius", "Messor"], np.random.default_rng(19))
    again = Truth.from_json(drawn.as_json())
    assert again.as_json() == drawn.as_json()
    assert again.genera["Messor"].together == pytest.approx(drawn.genera["Messor"].together)


def test_draws_follow_the_priors():
    rng = np.random.default_rng(20)
    drawn = [draw_truth(["a", "b"], rng) for _ in range(3000)]
    hazard = np.array([t.genera["a"].log_hazard for t in drawn])
    # Variance of mean + deviation: 1.2^2 + E[HalfNormal(.5)^2] = 1.44 + .25.
    assert abs(hazard.mean() - math.log(0.004)) < 4 * math.sqrt(1.69 / 3000)
    assert hazard.var() == pytest.approx(1.69, rel=0.12)
    mated = np.array([t.genera["a"].mated for t in drawn])
    # Beta(6, 1.5): mean 6 / 7.5, variance .8 x .2 / 8.5.
    assert abs(mated.mean() - 0.8) < 4 * math.sqrt(0.8 * 0.2 / 8.5 / 3000)
    level = np.array([t.genera["a"].founding_steps for t in drawn])
    assert (level[:, 2] == 0).all()
    # One step away from the reference .25, two steps away .5 (SD HalfNormal(.5)).
    assert level[:, 0].var() == pytest.approx(0.5, rel=0.25)
    assert level[:, 3].var() == pytest.approx(0.25, rel=0.25)
