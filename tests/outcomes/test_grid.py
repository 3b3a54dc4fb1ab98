"""The two-day grid and eight frailty nodes against fine quadrature of the same quantities.

The fine computation shares nothing with the recursion: matrix exponentials by eigenvectors,
forty Gauss-Legendre nodes between every two days at which a hazard bends, a trapezoid over the
frailty. `tests/simulate/test_outcomes_agree.py` holds the recursion against lives drawn event by
event; here the error of its grid alone is measured.
"""

import dataclasses
import math
from itertools import pairwise

import numpy as np
import pytest
from by_rows import CUTS1, CUTS2, Founding, Rates
from scenes import shared_of
from scipy.stats import binom, lognorm

from cohort.likelihood import layout as at
from cohort.outcomes.parameters import Draws
from cohort.outcomes.quantities import Key, colony, outcomes
from cohort.plan.chances import chances

HORIZON, SIZES = 160, (1, 2, 3, 6)
BASE = Rates(
    level1=0.004,
    ratio1=1.5,
    level2=0.002,
    ratio2=math.exp(1.9),
    theta=0.25,
    log_day=math.log(48.0),
    tau=0.15,
    phi=0.7,  # here the share of mated queens
    steps1=(0.5, 0.2, 0.0, -0.2, -0.3),
    steps2=(0.0, 0.4, -0.2, -0.5),
)
CASES = {
    "plain": BASE.but(steps1=(0.0,) * 5, steps2=(0.0,) * 4),
    "steps": BASE,
    "frailty": BASE.but(sigma=0.8),
    "much frailty, helpful company": BASE.but(sigma=1.2, ratio1=0.45, ratio2=0.8, theta=0.0),
    "very unlike each other": BASE.but(sigma=1.2),
    "narrow clock": BASE.but(tau=0.06),
    "fierce": BASE.but(level1=0.012, level2=0.01, ratio1=3.3, ratio2=math.exp(3.2), sigma=0.5),
}


def draws_of(rates):
    """The rates as one draw of the recursion's parameters (twice the same genus)."""
    one = np.zeros((2, at.EFFECTS))
    one[:, at.E_HAZARD1] = math.log(rates.level1)
    one[:, at.E_TOGETHER] = math.log(rates.ratio1)
    one[:, at.E_HAZARD2] = math.log(rates.level2)
    one[:, at.E_RIVALRY] = math.log(rates.ratio2)
    one[:, at.E_LAST_FIGHT], one[:, at.E_LOG_DAY] = rates.theta, rates.log_day
    shared = shared_of(rates)
    shared[at.S_MATED] = rates.phi
    return Draws(("Lasius",), one[None], shared[None], 1)


def fine(rates, k):
    """Outcomes of foundings of k queens, by name and day."""
    own = Founding(k, rates.but(ratio1=rates.ratio1 if k >= 2 else 1.0))
    clock, p = lognorm(rates.tau, scale=math.exp(rates.log_day)), rates.phi
    phi = 1 - (1 - p) ** k
    z = np.linspace(-7, 7, 71) if rates.sigma else np.zeros(1)
    weight = np.exp(-0.5 * z**2)
    weight /= weight.sum()
    tilt = np.exp(rates.sigma * z)
    count = np.arange(k + 1.0)
    lasting = 1 - (1 - p) ** count
    enough = binom(k, p).sf(k - count)  # more than k - m mated, so that one of m is left
    out = {}

    def nodes(upto, bends):
        edges = sorted({0.0, upto, *(b for b in bends if 0 < b < upto)})
        x, w = np.polynomial.legendre.leggauss(40)
        for a, b in pairwise(edges):
            yield from zip(a + 0.5 * (b - a) * (x + 1), 0.5 * (b - a) * w, strict=True)

    start = np.zeros(k + 1)
    start[k] = 1.0
    for day in (30.0, 60.0, 90.0, 160.0):
        late = 1 - phi * clock.cdf(day)
        alone = late * (start @ own.before(0, day, tilt))
        stopped, workers = (weight @ alone) @ count, 0.0
        after = np.zeros(k + 1)
        for e, w in nodes(day, (*CUTS1, *(day - c for c in CUTS2))):
            here = start @ own.before(0, e, tilt)
            here[:, 0] = 0.0
            scale = phi * w * clock.pdf(e)
            stopped += scale * (weight @ here) @ count
            workers += scale * (weight @ here).sum()
            moved = np.einsum("zi,zij->zj", here, own.after(e, day, e, tilt))
            after += scale * (weight @ moved)
        out["waiting", day] = (weight @ alone)[1:].sum()
        out["share_alive_before_workers", day] = stopped / k
        out["share_alive", day] = ((weight @ alone) @ count + after @ count) / k
        out["chance_by_day", day] = workers
        out["seen", day] = out["chance_per_founding", day] = after[1:].sum()
        # a living mated queen makes the founding fertile: her chance takes the place of phi
        out["alike", day] = out["chance_lasting", day] = after @ lasting / phi
        out["mated-first", day] = after[1:] @ enough[1:] / phi
    if k >= 2:
        reach = np.zeros((len(z), k + 1))
        for e, w in nodes(HORIZON, CUTS1):
            here = start @ own.before(0, e, tilt)
            reach += w * clock.pdf(e) * here
        reach[:, :2] = 0.0
        for day in (30.0, 60.0, 90.0):
            left = weight @ np.einsum("zi,zij->zj", reach, own.after(0, day, 0, tilt))
            left /= left.sum()
            out["chance_none_left", day], out["chance_one_left", day] = left[0], left[1]
            out["chance_several_left", day] = left[2:].sum()
            out["expected_left", day] = left @ count
    return out


def gaps(rates):
    """Error of the recursion by quantity, size and day."""
    post = outcomes(draws_of(rates), SIZES, HORIZON)
    found = {}
    for k in SIZES:
        exact = fine(rates, k)
        for key, values in post.values.items():
            name = named(key)
            if key.size == k and (name, key.day) in exact:
                found[name, k, key.day] = float(values[0, 0] - exact[name, key.day])
    return found


def named(key):
    """Name of a number in `fine`: its reading, where it is a chance of a colony."""
    chance = key.quantity in {"chance_per_founding", "chance_lasting"}
    return key.reading if chance else key.quantity


@pytest.mark.parametrize("name", CASES)
def test_the_grid_errs_by_less_than_three_in_a_thousand(name):
    errors = gaps(CASES[name])
    assert len(errors) > 80
    for (quantity, k, day), error in errors.items():
        allowed = 0.003 * (k if quantity == "expected_left" else 1)
        assert abs(error) < allowed, (quantity, k, day, error)


def test_size_and_company_enter_every_outcome():
    # Fault: an effect of size or of company that one outcome knows and another does not.
    step, rivals, sooner = 0.5, -0.6, -0.25
    rates = CASES["frailty"].but(ratio2=3.0)
    draws = draws_of(rates)
    draws.shared[:, at.S_SIZE_STEP], draws.shared[:, at.S_MULTI_DAYS] = step, sooner
    draws.shared[:, at.S_SIZE_STEP_RIVALRY] = rivals
    post = outcomes(draws, SIZES, HORIZON)
    # one and two queens share what is left after workers: fault, if only as neighbours
    order = (1, 6, 2, 3)
    mixed = dict(zip(order, chances(draws, 0, order, 90).lasting[0], strict=True))
    assert chances(draws, 0, SIZES, 90).lasting[0] == pytest.approx([mixed[k] for k in SIZES])
    for k in SIZES:
        own = rates
        if k >= 2:
            ratio = rates.ratio1 * math.exp(step * math.log2(k / 2))
            fiercer = rates.ratio2 * math.exp(rivals * math.log2(k / 2))
            own = rates.but(ratio1=ratio, ratio2=fiercer, log_day=rates.log_day + sooner)
        exact = fine(own, k)
        for key, values in post.values.items():
            name, day = named(key), key.day
            if key.size == k and (name, day) in exact:
                allowed = 0.003 * (k if name == "expected_left" else 1)
                assert abs(values[0, 0] - exact[name, day]) < allowed, (name, k, day)
        for day in (30, 60):
            here = chances(draws, 0, (1, k), day)
            lost = 1 - exact["chance_per_founding", day] - exact["waiting", day]
            assert here.lost[0, -1] == pytest.approx(lost, abs=0.003)
        if k >= 2:
            said = {key[1]: v[0, 0] for key, v in post.values.items() if key[2] == k}
            assert said["hazard_ratio"] == pytest.approx(own.ratio1)
            assert said["time_ratio"] == pytest.approx(math.exp(sooner))
            assert said["rivalry_ratio"] == pytest.approx(own.ratio2)
            assert said["fertile_share"] == pytest.approx(1 - (1 - rates.phi) ** k)
    unlike = fine(rates, 6)  # without them the numbers are others
    assert abs(unlike["chance_by_day", 60.0] - exact["chance_by_day", 60.0]) > 0.03


@pytest.mark.parametrize("column", range(at.WITHIN_DAYS, at.SHARED_WIDTH))
def test_all_that_foundings_share_moves_their_outcomes(column):
    # Fault: a variant that the fit knows and the outcomes do not (the weight of frailty after
    # workers, the effect of company that stays).
    none = {at.S_SEEN, at.S_THRESHOLD}  # of matings seen and of shelf logs: not of new foundings
    if column in none:
        return
    draws, moved = draws_of(CASES["frailty"]), draws_of(CASES["frailty"])
    moved.shared[:, column] = 1.0 if column == at.S_LASTING else moved.shared[:, column] * 0.8 - 0.1
    cold = (40.0, 60.0) if column in (at.WINTER, at.WINTER_COMPANY) else None
    one, other = (
        outcomes(dataclasses.replace(d, winter=cold), (1, 3), HORIZON).values
        for d in (draws, moved)
    )
    names = {"chance_per_founding", "chance_by_day", "chance_lasting"}
    assert max(np.abs(one[k] - other[k]).max() for k in one if k[1] in names) > 1e-3


def test_the_ratio_of_hazards_is_told_where_company_stays_too():
    draws = draws_of(CASES["frailty"])
    draws.shared[:, at.S_LASTING] = 1.0
    said = outcomes(draws, (1, 3), HORIZON).values[
        Key("queen_survival", "hazard_ratio", 3, math.inf)
    ]
    assert said == pytest.approx(CASES["frailty"].ratio1)


def test_frailty_larger_than_was_ever_found():
    errors = gaps(BASE.but(sigma=1.5))
    assert max(abs(e) for (_, k, _), e in errors.items() if k <= 3) < 0.006


def test_leaving_out_theta_would_show():
    exact = fine(CASES["steps"], 3)
    wrong = outcomes(draws_of(CASES["steps"].but(theta=0.0)), SIZES, HORIZON)
    values = wrong.values[colony(3, 160, "seen")]
    assert abs(values[0, 0] - exact["chance_per_founding", 160.0]) > 0.05


def test_queen_days_are_the_area_under_the_queens_alive():
    rates = CASES["frailty"]
    post = outcomes(draws_of(rates), SIZES, HORIZON)
    own = Founding(1, rates.but(ratio1=1.0))
    assert post.values[Key("queen_survival", "queen_days", 1, 160)][0, 0] == pytest.approx(
        np.trapezoid(post.alive[0, 0, 0], post.days), abs=0.2
    )
    assert own.k == 1


def test_unmated_survivors_carry_no_colony():
    # Chance of a lasting colony, three queens, day 160, sigma 0 (h1 .004, lone .002, r 1.9,
    # theta .15): .48 .66 .73 for p = .60 .85 .95, by the event simulator (200,000 foundings).
    for p, simulated in ((0.60, 0.482), (0.85, 0.660), (0.95, 0.730)):
        rates = Rates(level1=0.004, level2=0.002, theta=0.15, tau=0.12, phi=p)
        post = outcomes(draws_of(rates), (1, 3), 160)
        lasting = post.values[colony(3, 160, "alike")][0, 0]
        seen = post.values[colony(3, 160, "seen")][0, 0]
        assert lasting == pytest.approx(simulated, abs=0.005)
        assert lasting == pytest.approx(fine(rates, 3)["chance_lasting", 160.0], abs=0.001)
        assert seen > lasting + 0.02


@pytest.mark.parametrize("horizon", [150, 151])
def test_days_off_the_grid_lie_on_it_nearly(horizon):
    rates = CASES["plain"]
    exact = np.interp(
        horizon, (90.0, 160.0), [fine(rates, 3)["chance_by_day", d] for d in (90.0, 160.0)]
    )
    post = outcomes(draws_of(rates), (1, 3), horizon)
    assert post.values[Key("first_worker", "chance_by_day", 3, horizon)][0, 0] == pytest.approx(
        exact, abs=0.02
    )


def test_a_horizon_of_sixty_days_still_tells_of_day_sixty_after_workers():
    # Fault: the last edge itself left out.
    values = outcomes(draws_of(BASE), (1, 2), 60).values
    assert Key("queens_after_workers", "chance_one_left", 2, 60) in values


def test_curves_and_an_odd_horizon_reach_to_the_last_day():
    # Queens that hardly die: the chance of a first worker is the log-normal alone. Faults: the
    # grid a cell too short, so that the last day is read beyond it (off by .0012 here); curves
    # that stop before the horizon.
    rates = Rates(level1=1e-9, level2=1e-9, tau=0.15, phi=1.0)
    clock = lognorm(rates.tau, scale=math.exp(rates.log_day))
    chance = outcomes(draws_of(rates), (1,), 43).values[Key("first_worker", "chance_by_day", 1, 43)]
    assert chance[0, 0] == pytest.approx(clock.cdf(43.0), abs=7e-4)
    post = outcomes(draws_of(rates), (1,), HORIZON)
    assert post.days == pytest.approx(np.arange(0.0, HORIZON + 1.0, 4.0))
    assert post.workers[0, 0, 0] == pytest.approx(clock.cdf(post.days), abs=1e-6)


def test_chances_in_a_shared_nest_add_up_to_one_and_one_queen_shares_none():
    # Fault: nought over nought where no founding of that size has two queens to lose.
    left = outcomes(draws_of(BASE), (1, 3), 60).left
    assert (left[:, :, 0] == 0.0).all()
    assert left[:, :, 1].sum(axis=-1) == pytest.approx(1.0, abs=1e-9)
    assert (left[:, :, 1, 0, 2] == 1.0).all()  # all three at the first worker, or the pair
    assert (left[:, :, 1, -1, 0] > 0.01).all()
