"""Packing: sums instead of looks, nodes instead of an integral, and what each costs."""

import math
from itertools import pairwise

import numpy as np
import pytest
from by_rows import Founding, Rates
from scenes import (
    by_frailty,
    history_of,
    lived,
    marginal,
    packed_sets,
    par_of,
    shared_of,
    tables_of,
)
from scipy.stats import lognorm
from small_study import small_study

from cohort.history import history
from cohort.likelihood import layout as at
from cohort.likelihood.exposure import packed
from cohort.likelihood.study import marginal_loglik, study_loglik
from cohort.likelihood.traces import merged, overlap

RATES = Rates(
    level1=0.006,
    ratio1=1.4,
    level2=0.004,
    ratio2=math.exp(1.5),
    theta=0.2,
    log_day=math.log(45.0),
    tau=0.15,
    phi=0.9,
    steps1=(0.4, 0.2, 0.0, -0.2, 0.3),
    steps2=(0.0, 0.3, -0.4, 0.2),
)
# counts, first worker, blanks and removals of every kind; (day, queens, workers[, taken out])
BY_HAND = [
    (3, ((14.0, 3, 0), (28.0, 2, 0), (42.0, 2, 0), (56.0, 2, 1), (70.0, 1, 1), (90.0, 1, 1))),
    (3, ((10.0, 3, 0), (20.0, 3, 0), (30.0, 3, 0), (50.0, 1, 1), (60.0, 1, 1))),
    (2, ((14.0, 2, 0), (28.0, 1, 0), (42.0, 0, 0))),
    (2, ((14.0, 2, 0), (40.0, 2, 0), (60.0, 0, 1))),
    (1, ((20.0, 1, 0), (40.0, 1, 0), (60.0, 1, 0), (80.0, 1, 0))),
    (3, ((14.0, 3, 0), (28.0, 3, None), (42.0, 2, None), (63.0, 2, 1), (77.0, 0, 1))),
    (3, ((14.0, 3, 0, 1), (28.0, 2, 0), (49.0, 1, 1), (66.0, 1, 1))),
    (2, ((30.0, 2, 0), (45.0, None, 0), (52.0, None, 1))),
    (2, ((30.0, 2, 0), (45.0, None, 0), (80.0, 0, None))),
    (4, ((25.0, 4, None), (50.0, 2, None), (75.0, 1, None))),
]


def in_the_cells(k, looks, rates, tables):
    """The same sum as the kernel's, over its cells, with every look taken by itself."""
    records, _, nodes = tables
    clock = lognorm(rates.tau, scale=math.exp(rates.log_day))
    own = Founding(k, rates)
    total = 0.0
    for q in range(int(records[0, at.NODES_FROM]), int(records[0, at.NODES_TO])):
        start, stop = np.exp(nodes[q, [at.LOG_FROM, at.LOG_TO]])
        chance = clock.cdf(stop) - clock.cdf(start)
        total += chance * rates.phi * own.path(looks, 0.5 * (start + stop), 0.0)
    if records[0, at.NONE]:
        last = math.exp(records[0, at.LOG_END])
        total += (1 - rates.phi * clock.cdf(last)) * own.path(looks, math.inf, 0.0)
    return total


@pytest.mark.parametrize("i", range(len(BY_HAND)))
def test_collapsed_is_look_by_look_in_the_same_cells(i):
    k, looks = BY_HAND[i]
    tables = tables_of(packed_sets([(k, looks)]))
    got = marginal(tables, RATES)[0]
    assert got == pytest.approx(math.log(in_the_cells(k, looks, RATES, tables)), abs=1e-9)


def test_merging_across_a_loss_would_show():
    spans = [(0.0, 10.0, 3, 3), (10.0, 20.0, 3, 2), (20.0, 30.0, 2, 2), (30.0, 40.0, 2, 2)]
    assert merged(spans) == [(0.0, 10.0, 3, 3), (10.0, 20.0, 3, 2), (20.0, 40.0, 2, 2)]
    k, looks = BY_HAND[0]
    later = (*looks[:1], *((t, q if t != 28 else 3, w) for t, q, w in looks[1:]))
    tables = tables_of(packed_sets([(k, looks)]))
    wrong = tables_of(packed_sets([(k, later)]))
    assert abs(marginal(tables, RATES)[0] - marginal(wrong, RATES)[0]) > 0.1


@pytest.mark.parametrize("i", range(len(BY_HAND)))
def test_small_cells_meet_an_adaptive_integral(i):
    # Cells of a tenth of a day against adaptive quadrature over e (scipy, Gauss-Kronrod) and a
    # trapezoid over the frailty.
    k, looks = BY_HAND[i]
    rates = RATES.but(sigma=0.7)
    got = marginal(tables_of(packed_sets([(k, looks)])), rates)[0]
    exact = Founding(k, rates).marginal(looks, adaptive=True, points=33, reach=7.0)
    assert got == pytest.approx(math.log(exact), abs=1e-3)


def draws_around(rates, count, seed):
    """Parameters about as scattered as the posterior of 64 foundings."""
    rng = np.random.default_rng(seed)
    for _ in range(count):
        yield rates.but(
            level1=rates.level1 * math.exp(0.25 * rng.normal()),
            ratio1=rates.ratio1 * math.exp(0.3 * rng.normal()),
            level2=rates.level2 * math.exp(0.25 * rng.normal()),
            ratio2=rates.ratio2 * math.exp(0.3 * rng.normal()),
            theta=1 / (1 + math.exp(1.6 - 0.4 * rng.normal())),
            log_day=rates.log_day + rates.tau / 6 * rng.normal(),
            tau=rates.tau * math.exp(0.12 * rng.normal()),
            phi=rng.beta(18, 2),
            sigma=abs(0.6 + 0.25 * rng.normal()),
        )


@pytest.mark.parametrize("gap", [7, 14])
@pytest.mark.parametrize("tau", [0.06, 0.15])
def test_the_fitting_kernel_is_near_the_reference(gap, tau):
    rates = RATES.but(tau=tau, sigma=0.6, log_day=math.log(48.0))
    days = np.arange(gap, 161, gap)
    past = history_of(
        lived(32, 1, rates.but(ratio1=1.0), days, 1) + lived(32, 3, rates.but(phi=0.999), days, 2)
    )
    drawn = list(draws_around(rates, 40, 3))
    pars = np.array([par_of(r, 64) for r in drawn])
    shared = np.array([shared_of(r) for r in drawn])
    reference = marginal_loglik(pars, shared, *tables_of(packed(past, cell=0.25)))
    fitting = marginal_loglik(pars, shared, *tables_of(packed(past)))
    assert abs(fitting - reference).max() < 2e-2
    assert (fitting - reference).sum(axis=1).std() < 0.01
    # One cell a week, which would be quicker, is not.
    coarse = marginal_loglik(pars, shared, *tables_of(packed(past, cell=7.0)))
    assert abs(coarse - reference).max() > 2e-2


@pytest.mark.parametrize("sigma", [0.8, 1.8])
def test_fifteen_nodes_of_frailty_are_enough(sigma):
    # Adaptive Gauss-Hermite against a trapezoid of 10,000 points on [-12, 12].
    rates = RATES.but(sigma=sigma)
    records, rows, nodes = tables_of(packed_sets(BY_HAND[:6], cell=2.5))
    got = marginal((records, rows, nodes), rates)
    z = np.linspace(-12, 12, 10_000)
    weight = np.exp(-0.5 * z**2) / math.sqrt(2 * math.pi) * (z[1] - z[0])
    tables = records, rows, nodes
    conditional = by_frailty(par_of(rates, 6), shared_of(rates), *tables, z)
    exact = np.log((weight[:, None] * np.exp(conditional)).sum(axis=0))
    assert abs(got - exact).max() < 1e-4
    # Five plain nodes, not moved to where the weight lies, are not.
    x, w = np.polynomial.hermite_e.hermegauss(5)
    near = [np.abs(z - v).argmin() for v in x]
    few = np.log((w / w.sum()) @ np.exp(conditional[near]))
    assert sigma < 1 or abs(few - exact).max() > 1e-2


def test_the_state_at_entry_is_averaged_over_frailty_well_enough():
    # Fitting takes 15 nodes that do not move for this one factor; see how far off they are.
    from small_study import date

    sets = [(3, ((64.0, 1, 1), (80.0, 1, 1))), (3, ((64.0, 2, 0), (90.0, 1, 0)))]
    more = {f"F{i}": {"followed_from": date(64)} for i in range(2)}
    tables = tables_of(packed_sets(sets, more=more))
    for sigma in (0.5, 1.0, 1.8):
        rates = RATES.but(sigma=sigma)
        par, shared = par_of(rates, 2), shared_of(rates)
        both = study_loglik(par, shared, *tables)[0]
        main = study_loglik(par, shared, tables[0][:2], *tables[1:])[0]
        fine = 0.0
        for k, looks in sets:
            fine += math.log(Founding(k, rates).marginal(looks[:1], points=81, reach=8.0))
        assert both - main == pytest.approx(-fine, abs=5e-3)


def test_cost_grows_with_losses_not_with_looks():
    calm = [(3, tuple((float(t), 3, 0) for t in range(gap, 161, gap))) for gap in (2, 16)]
    exposures = [packed_sets([one]) for one in calm]
    assert exposures[0].rows.shape == exposures[1].rows.shape
    assert exposures[0].nodes.shape == exposures[1].nodes.shape
    assert exposures[0].records[0] == pytest.approx(exposures[1].records[0])


def test_days_fall_into_their_pieces():
    parts = overlap(3.0, 50.0, at.CUTS1)
    assert parts == [4.0, 14.0, 21.0, 8.0, 0.0]
    assert overlap(100.0, 200.0, at.CUTS1) == [0.0, 0.0, 0.0, 0.0, 100.0]
    assert all(sum(overlap(a, b, at.CUTS2)) == b - a for a, b in pairwise((0, 5, 30, 31, 300)))


def test_what_follows_foreign_brood_tells_nothing_of_queens_or_workers():
    """Put in before the first own worker: the founding speaks up to the look of that day."""
    event = [("A", 28, "brood-in")]
    cut, boosted, late, none = (
        packed(history(small_study({"A": line}, events)))
        for line, events in (
            ("2 | 14 2/0, 28 2/0", ()),
            ("2 | 14 2/0, 28 2/0, 42 1/9, 60 0/20", event),
            ("2 | 14 2/1, 28 2/2, 42 1/9, 60 0/20", event),  # own workers came first
            ("2 | 14 2/1, 28 2/2, 42 1/9, 60 0/20", ()),
        )
    )
    for ours, same in ((boosted, cut), (late, none)):
        for a, b in zip(tables_of(ours), tables_of(same), strict=True):
            np.testing.assert_array_equal(a, b)
        assert ours.loss_days1.tolist() == same.loss_days1.tolist()
    assert len(late.rows) > len(cut.rows) == 0  # and the losses left aside were there to be read


def test_a_fight_of_two_that_leaves_one_is_a_last_fight():
    # Fault: only losses from three queens and more taken for last fights.
    lines = {"A": "2 | 14 2/0, 28 2/3, 42 1/5", "B": "3 | 14 3/0, 28 3/3, 42 2/5"}
    ours, three = (packed(history(small_study({name: line}))) for name, line in lines.items())
    assert np.count_nonzero(ours.last_fights) == 1
    assert np.count_nonzero(three.last_fights) == 0
