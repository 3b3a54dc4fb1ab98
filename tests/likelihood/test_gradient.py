"""Gradient of the kernel: finite differences for every parameter, late entries and blanks too."""

import math

import numpy as np
import pytest
from by_rows import Rates
from scenes import packed_sets, par_of, shared_of
from scipy.integrate import quad
from scipy.special import ndtr
from scipy.stats import norm

from cohort.likelihood import layout as at
from cohort.likelihood.founding import losses
from cohort.likelihood.rates import GRADIENT
from cohort.likelihood.rates import RATES as ALL_RATES
from cohort.likelihood.study import study_loglik
from cohort.likelihood.tails import between, beyond
from cohort.likelihood.warm_tables import warm_tables
from cohort.warmth import WarmClock

RATES = Rates(
    level1=0.006,
    ratio1=1.4,
    level2=0.004,
    ratio2=4.5,
    theta=0.2,
    log_day=math.log(45.0),
    tau=0.15,
    phi=0.9,
    sigma=0.7,
    loading=0.8,
    steps1=(0.4, 0.2, 0.0, -0.2, 0.3),
    steps2=(0.0, 0.3, -0.4, 0.2),
)
FOUNDINGS = [
    (3, ((14.0, 3, 0), (28.0, 2, 0), (56.0, 2, 1), (70.0, 1, 1), (160.0, 1, 1))),
    (2, ((14.0, 2, 0), (28.0, 1, 0), (42.0, 0, 0))),
    (2, ((14.0, 2, 0), (40.0, 2, 0), (60.0, 0, 1))),
    (1, ((20.0, 1, 0), (40.0, 1, 0), (80.0, 1, 0))),
    (1, ((20.0, 1, 0), (60.0, 0, 1))),
    (3, ((14.0, 3, 0), (28.0, 3, None), (42.0, 2, None), (63.0, 2, 1), (77.0, 0, 1))),
    (4, ((25.0, 4, None), (50.0, 2, None), (75.0, 1, None))),
    (3, ((30.0, 3, 0), (45.0, None, 0), (52.0, None, 1))),
    (2, ((30.0, 2, 0), (45.0, None, 0))),
    (3, ((40.0, 2, 0), (60.0, 2, 1), (90.0, 1, 1))),  # entered on day 40
    (2, ((64.0, 1, 1), (80.0, 0, 1))),  # entered on day 64 with workers
]


@pytest.fixture(scope="module")
def study():
    from small_study import date

    more = {"F9": {"followed_from": date(40)}, "F10": {"followed_from": date(64)}}
    exposure = packed_sets(FOUNDINGS, cell=2.0, more=more)
    assert exposure.records.shape[0] == len(FOUNDINGS) + 2
    rng = np.random.default_rng(4)
    par = par_of(RATES, len(FOUNDINGS))
    par[:, at.FRAILTY] = rng.normal(size=len(FOUNDINGS))
    columns = [at.HAZARD1, at.TOGETHER, at.HAZARD2, at.RIVALRY, at.LOG_DAY]
    par[:, columns] += rng.normal(0, 0.1, (len(FOUNDINGS), len(columns)))
    low = rng.normal(17.0, 2.0, (len(FOUNDINGS), 170))
    logged = [WarmClock(day, day + 6.0, 23.0) if i % 2 else None for i, day in enumerate(low)]
    par[:, at.THRESHOLD] = rng.uniform(5.0, 17.0, len(FOUNDINGS))
    records, nodes = warm_tables(exposure.records, exposure.nodes, logged)
    return par, shared_of(RATES), (records, exposure.rows, nodes)


def difference(f, x, i, d=1e-6):
    up, down = x.copy(), x.copy()
    up[i] += d
    down[i] -= d
    return (f(up) - f(down)) / (2 * d)


def test_slopes_of_what_foundings_do_not_share(study):
    par, shared, tables = study
    _, gradient, _ = study_loglik(par, shared, *tables)
    for i in np.ndindex(par.shape):
        gap = difference(lambda p: study_loglik(p, shared, *tables)[0], par, i)
        assert gradient[i] == pytest.approx(gap, rel=1e-5, abs=2e-6), i
    assert (np.abs(gradient).max(axis=0) > 1e-3).all()  # every column was tried


def test_slopes_of_what_they_share(study):
    par, shared, tables = study
    _, _, gradient = study_loglik(par, shared, *tables)
    assert (gradient[at.READ :] == 0).all()  # these enter by the parameters of foundings
    assert (gradient[[at.WINTER, at.WINTER_COMPANY]] == 0).all()  # nobody goes through winter
    for i in range(at.WINTER):
        gap = difference(lambda s: study_loglik(par, s, *tables)[0], shared, i)
        assert gradient[i] == pytest.approx(gap, rel=1e-5, abs=2e-6), i
        assert abs(gradient[i]) > 1e-3


def test_the_factor_of_late_entries_has_slopes_of_its_own(study):
    # Left out of the gradient, as if it were data, they no longer meet the differences.
    par, shared, (records, rows, nodes) = study
    main = records[: len(FOUNDINGS)]
    _, _, without = study_loglik(par, shared, main, rows, nodes)
    gap = difference(lambda s: study_loglik(par, s, records, rows, nodes)[0], shared, at.SIGMA)
    assert abs(without[at.SIGMA] - gap) > 1e-2


def test_the_frailty_of_a_founding_does_not_touch_the_factor_of_its_entry(study):
    par, shared, (records, rows, nodes) = study
    other = par.copy()
    other[-2:, at.FRAILTY] += 0.5
    entries = [
        study_loglik(p, shared, records, rows, nodes)[0]
        - study_loglik(p, shared, records[: len(FOUNDINGS)], rows, nodes)[0]
        for p in (par, other)
    ]
    assert entries[0] == pytest.approx(entries[1], abs=1e-10)


@pytest.mark.parametrize(
    ("a", "b"),
    [
        (-1.0, 0.5),
        (0.3, 0.9),
        (-0.9, -0.3),
        (6.0, 6.5),
        (9.9, 12.0),
        (11.0, 11.01),
        (25.0, 40.0),
        (-40.0, -25.0),
        (-745.0, -2.0),
    ],
)
def test_the_chance_of_a_cell_and_its_ends(a, b):
    scale, all_mass, by_a, by_b = between(a, beyond(a), b, beyond(b))
    value, at_a, at_b = scale + math.log(all_mass), by_a / all_mass, by_b / all_mass
    low, high = (a, b) if a + b > 0 else (-b, -a)
    # log of the mass, scaled by the larger density so that far tails do not underflow
    mass, _ = quad(lambda x: math.exp(0.5 * low * low - 0.5 * x * x), low, min(high, low + 12))
    exact = math.log(mass) - 0.5 * low * low - 0.5 * math.log(2 * math.pi)
    assert value == pytest.approx(exact, rel=1e-9, abs=2e-6)
    assert at_a == pytest.approx(math.exp(norm.logpdf(a) - exact), rel=1e-5, abs=1e-12)
    assert at_b == pytest.approx(math.exp(norm.logpdf(b) - exact), rel=1e-5, abs=1e-12)


def test_tails_of_the_normal_against_scipy():
    places = np.concatenate(
        [
            np.linspace(-37.0, 37.0, 4001),
            [c + d for c in (0.66291, 5.656854249) for d in (-1e-9, 1e-9)],
        ]
    )
    mass, density = np.array([beyond(x) for x in places]).T
    assert mass == pytest.approx(ndtr(-np.abs(places)), rel=1e-12, abs=0.0)
    assert density == pytest.approx(norm.pdf(places), rel=1e-12, abs=0.0)
    assert mass[0] != pytest.approx(ndtr(-37.01), rel=1e-12, abs=0.0)


def test_wild_parameters_stay_finite(study):
    par, shared, tables = study
    for scale in (-60.0, 60.0):
        wild, all_of_them = par.copy(), shared.copy()
        wild[:, : at.RIVALRY + 1] += scale
        all_of_them[at.WITHIN_DAYS] = 1e-4 if scale < 0 else 50.0
        value, gradient, shared_gradient = study_loglik(wild, all_of_them, *tables)
        assert math.isfinite(value)
        assert np.isfinite(gradient).all()
        assert np.isfinite(shared_gradient).all()


@pytest.mark.parametrize("sd", [3.0, 15.0, 40.0])
def test_parameters_far_from_each_other_stay_finite(sd):
    """As in a warm-up that goes wrong: chances of 1e-290 are multiplied by others like them."""
    many = [
        (12, ((20.0, 12, 0), (40.0, 4, 1), (60.0, 3, 1))),
        (9, ((10.0, 9, 0), (30.0, 2, 0), (45.0, 2, 1), (50.0, 0, 1))),
        (12, ((10.0, 12, 0), (17.0, 2, 0), (24.0, 0, 0))),
    ]
    exposure = packed_sets([*FOUNDINGS[:8], *many], cell=2.0)
    tables = exposure.records, exposure.rows, exposure.nodes
    rng, far = np.random.default_rng(6), [at.HAZARD1, at.TOGETHER, at.HAZARD2, at.RIVALRY]
    for _ in range(60):
        par, shared = par_of(RATES, 11), shared_of(RATES)
        par[:, far] += rng.normal(0, sd, (11, 4))
        par[:, at.LOG_DAY] += rng.normal(0, sd / 10, 11)
        par[:, at.FERTILE] = 1 / (1 + np.exp(-rng.normal(0, sd, 11)))
        shared[at.WITHIN_DAYS] = math.exp(rng.normal(-2, 1))
        value, gradient, shared_gradient = study_loglik(par, shared, *tables)
        assert math.isfinite(value)
        assert np.isfinite(gradient).all()
        assert np.isfinite(shared_gradient).all()


def test_a_loss_of_ten_queens_at_hardly_any_risk_has_a_log():
    row = np.array([[0.0, 12.0, 2.0, 10.0, 0.0, 0.0, 0.0, 0.0]])
    log_part, factor = losses(row, 0, 1, np.full(ALL_RATES, 1e-35), np.zeros(GRADIENT))
    exact = math.log(66) + 10 * math.log(1e-34)  # C(12, 2) v^10, v = 10 days x 1e-35
    assert log_part + math.log(factor) == pytest.approx(exact, rel=1e-12)
