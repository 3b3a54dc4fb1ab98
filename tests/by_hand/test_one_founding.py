"""One founding of two queens and three looks, worked on paper; and four founded values.

Two queens go in on day 0. The keeper looks on days 30, 50 and 80::

    day      30     50     80
    queens    2      1      1
    workers   0      1      .

A queen that is alone dies at h a day before workers, at g a day with workers; two together die
at twice that each (2h, 2g). Of losses from two with workers, a share theta takes both. The first
worker comes at E with density f; a founding with a mated queen (chance phi) gets one.

**Up to day 30** both live: exp(-2 x 2h x 30) = exp(-120 h).

**From 30 to 50** one queen dies and the first worker comes, in some order. Say it comes at e.

1. *She dies first*, at u < e, and the worker finds the other: until u both live, exp(-4h (u-30));
   at u one of two dies, rate 4h; alone until e at h; then alone with workers at g until 50::

       int_30^e 4h exp(-4h (u-30)) exp(-h (e-u)) du exp(-g (50-e))
       = 4/3 [exp(-h (e-30)) - exp(-4h (e-30))] exp(-g (50-e))

2. *The worker first*: both live to e; after it one dies and, with chance 1 - theta, not both::

       exp(-4h (e-30)) (1-theta) 4/3 [exp(-g (50-e)) - exp(-4g (50-e))]

The chance of the second look is phi int_30^50 f(e) {1 + 2} de.

**From 50 to 80** the queen left lives on, with workers: exp(-30 g).

(Nobody lives alone at rate 2h: the hazard of company ends with it.)
"""

import math

import numpy as np
import pytest
from by_rows import Rates
from scenes import marginal, packed_sets, tables_of
from scipy.integrate import quad
from scipy.stats import lognorm

H, G, THETA, PHI = 0.004, 0.003, 0.2, 0.95
MEDIAN, WITHIN_DAYS = 46.0, 0.15
RATES = Rates(
    level1=H,
    ratio1=2.0,
    level2=G,
    ratio2=2.0,
    theta=THETA,
    log_day=math.log(MEDIAN),
    tau=WITHIN_DAYS,
    phi=PHI,
)
LOOKS = ((30.0, 2, 0), (50.0, 1, 1), (80.0, 1, None))


def on_paper(e):
    a, b = e - 30, 50 - e
    she_first = 4 / 3 * (math.exp(-H * a) - math.exp(-4 * H * a)) * math.exp(-G * b)
    fight = (1 - THETA) * 4 / 3 * (math.exp(-G * b) - math.exp(-4 * G * b))
    return she_first + math.exp(-4 * H * a) * fight


def test_two_queens_three_looks():
    clock = lognorm(WITHIN_DAYS, scale=MEDIAN)
    middle, _ = quad(lambda e: clock.pdf(e) * on_paper(e), 30, 50, epsabs=1e-14)
    chance = math.exp(-120 * H) * PHI * middle * math.exp(-30 * G)
    got = math.exp(marginal(tables_of(packed_sets([(2, LOOKS)], cell=0.02)), RATES)[0])
    assert got == pytest.approx(chance, rel=1e-6)
    assert chance == pytest.approx(0.08785, abs=5e-6)
    # Had the hazard of company stuck to the queen left alone, it would be another number.
    stuck = Rates(**(RATES.__dict__ | {"level1": 2 * H, "ratio1": 1.0}))
    lasting = math.exp(marginal(tables_of(packed_sets([(2, LOOKS)], cell=0.02)), stuck)[0])
    assert abs(lasting / chance - 1) > 0.02


# --- four foundings whose chances were computed apart from this package ------------------------
# By the authors of the model's description, ten digits: h1 .005, b 0, lone .002, r 1.9,
# theta .15, log E ~ N(log 48, .12), looks every 14 days, p .85 for each queen; sigma 0 and .5.
TOGETHER = Rates(level1=0.005, ratio1=1.0, level2=0.002, ratio2=math.exp(1.9), theta=0.15, tau=0.12)
FOUR = {
    "A": ((3, 3, 2, 2, 1, 1), 4, 3, 0.01881815463, 0.02024706168),
    "B": ((2, 2, 1, 1, 0), None, 2, 0.003243859481, 0.00418226103),
    "C": ((1, 1, 1, 1, 1, 1), None, 1, 0.1062021317, 0.1034127485),
    "D": ((2, 2, 2, 2, 0), 4, 2, 0.0136567291, 0.01311827695),
}


def fortnightly(counts, first):
    """Looks every 14 days; ``counts`` opens with day 0; workers from look ``first`` on."""
    return tuple(
        (14.0 * j, alive, int(first is not None and j >= first))
        for j, alive in enumerate(counts[1:], start=1)
    )


@pytest.mark.parametrize("name", FOUR)
def test_four_foundings_meet_the_values_computed_elsewhere(name):
    counts, first, k, plain, frail = FOUR[name]
    tables = tables_of(packed_sets([(k, fortnightly(counts, first))], cell=0.02))
    rates = TOGETHER.but(phi=1 - 0.15**k)
    assert math.exp(marginal(tables, rates)[0]) == pytest.approx(plain, rel=1e-5)
    assert math.exp(marginal(tables, rates.but(sigma=0.5))[0]) == pytest.approx(frail, rel=1e-5)


# --- parts of the model, each by itself --------------------------------------------------------


def test_a_founding_without_a_mated_queen_has_no_worker():
    # One queen, nobody dies, nobody seen by day 170, long after any E: 1 - p.
    calm = TOGETHER.but(level1=1e-12, level2=1e-12, phi=0.85)
    tables = tables_of(packed_sets([(1, ((170.0, 1, 0),))]))
    assert math.exp(marginal(tables, calm)[0]) == pytest.approx(0.15, abs=1e-8)
    # Two queens share the insurance: 1 - .15^2 have workers in the end.
    both = calm.but(phi=1 - 0.15**2)
    seen = tables_of(packed_sets([(2, ((170.0, 2, 1),))]))
    assert math.exp(marginal(seen, both)[0]) == pytest.approx(0.9775, abs=1e-8)


def test_the_last_fight_takes_both_in_a_share_theta_of_losses_from_two():
    # Two queens with workers, the lone hazard next to nothing: of foundings that lost any, theta
    # lost both, whatever the ratio and the days.
    rates = TOGETHER.but(level1=1e-12, level2=1e-9, ratio2=1e7, phi=1.0, theta=0.3)
    looks = [((60.0, 2, 1), (70.0, left, 1)) for left in (0, 1)]
    tables = tables_of(packed_sets([(2, one) for one in looks]))
    both, one = np.exp(marginal(tables, rates))
    assert both / (both + one) == pytest.approx(0.3, abs=1e-6)


# --- delayed entry ------------------------------------------------------------------------------


def test_frailty_of_those_that_entered_late():
    """Single queens seen from day 64 on are the hardy ones.

    With sigma 1 and h = .005: those alive on day 64 live to 160 with chance
    S(160) / S(64), both averaged over the frailty of all. Starting the clock on day 64 without
    the selection would claim S(96), averaged over the frailty of all: less.
    """
    rates = Rates(level1=0.005, log_day=math.log(1e6), tau=0.1, sigma=1.0)
    z = np.linspace(-9, 9, 4001)
    weight = np.exp(-0.5 * z**2) / math.sqrt(2 * math.pi) * (z[1] - z[0])

    def alive(days):
        return float((weight * np.exp(-0.005 * days * np.exp(z))).sum())

    from small_study import date

    tables = tables_of(
        packed_sets([(1, ((64.0, 1, 0), (160.0, 1, 0)))], more={"F0": {"followed_from": date(64)}})
    )
    got = math.exp(marginal(tables, rates)[0])
    assert got == pytest.approx(alive(160) / alive(64), abs=1e-5)
    assert got - alive(96) > 0.05
