"""Winter rest in the likelihood: brute force, one unit of chance, slopes, and a clock that stands.

Looks are read through study, history and packing; the reference shares no line with them.
"""

import math

import numpy as np
import pytest
from by_rows import Rates
from scenes import history_of, marginal, packed_sets, par_of, shared_of, tables_of
from test_unity import possible
from winter_by_rows import WinterFounding

from cohort.base.errors import StudyError
from cohort.history.winters import WinterRest
from cohort.likelihood import layout as at
from cohort.likelihood.exposure import _Packer, packed
from cohort.likelihood.study import study_loglik
from cohort.likelihood.traces import Trace, stages, thawed

WINTER = ((50.0, 150.0),)
TWO = ((30.0, 60.0), (80.0, 200.0))
FAST = Rates(
    level1=0.012,
    ratio1=1.8,
    level2=0.009,
    ratio2=4.1,
    theta=0.3,
    log_day=math.log(52.0),
    tau=0.35,
    phi=0.8,
    steps1=(0.5, 0.2, 0.0, -0.3, 0.1),
    steps2=(0.0, 0.4, -0.2, 0.3),
    winter=0.45,
    winter_company=1.6,
)
SEEN = {
    "a loss over the whole winter, no workers": (3, ((40, 3, 0), (160, 2, 0), (170, 2, 0)), WINTER),
    "down to one over winter, workers long there": (
        3, ((30, 3, 0), (45, 3, 1), (160, 1, 1)), WINTER,
    ),
    "the first worker after winter, a loss beside it": (3, ((45, 3, 0), (165, 2, 1)), WINTER),
    "the first worker before or after winter": (4, ((30, 4, 0), (165, 1, 1)), WINTER),
    "looks in the cold": (
        3, ((40, 3, 0), (60, 3, 0), (90, 2, 0), (150, 2, 0), (163, 2, 1)), WINTER,
    ),
    "a loss in the cold alone": (2, ((50, 2, 0), (80, 1, 0), (150, 1, 0)), WINTER),
    "all lost over winter, none seen": (2, ((45, 2, 0), (158, 0, 0)), WINTER),
    "all lost in the cold": (3, ((55, 3, 0), (90, 0, 0)), WINTER),
    "all lost over winter, workers before": (3, ((48, 3, 1), (158, 0, 1)), WINTER),
    "a lone queen through winter": (1, ((40, 1, 0), (160, 1, 0), (180, 1, 1)), WINTER),
    "a lone queen lost in winter": (1, ((40, 1, 0), (160, 0, 0)), WINTER),
    "queens counted no more after autumn": (3, ((45, 3, 0), (170, None, 1)), WINTER),
    "workers sought no more": (3, ((45, 3, 0), (160, 2, None), (175, 1, None)), WINTER),
    "workers sought no more, one queen": (2, ((45, 1, 0), (170, 1, None), (180, 0, None)), WINTER),
    "only workers looked for over winter": (2, ((45, 2, 0), (165, None, 0)), WINTER),
    "two winters": (3, ((20, 3, 0), (70, 3, 0), (90, 2, 1), (230, 1, 1)), TWO),
    "two winters in one interval": (4, ((25, 4, 0), (220, 2, 1)), TWO),
}  # fmt: skip


def tables_of_one(k, looks, winters):
    """A founding packed by way of study and history."""
    return tables_of(packed_sets([(k, looks)], winters=winters))


def tables_of_two(k, looks, winters):
    """The same by hand: a history ends with the second winter, what is packed need not."""
    spans, last, n = [], 0.0, k
    for day, queens, _ in looks:
        spans.append((last, day, n, queens))
        last, n = day, queens
    by = min((day for day, _, workers in looks if workers), default=math.inf)
    after = max((day for day, _, workers in looks if workers == 0), default=0.0)
    packer = _Packer(0.1)
    rest = WinterRest(*(tuple(ends) for ends in zip(*winters, strict=True)))
    packer.add(thawed(Trace(spans, after, by, after), rest), 0)
    return packer.tables()


@pytest.mark.parametrize("name", SEEN)
@pytest.mark.parametrize("sigma", [0.0, 0.6])
def test_the_kernel_is_what_brute_force_finds(name, sigma):
    k, looks, winters = SEEN[name]
    rates = FAST.but(sigma=sigma, loading=0.8)
    looks = tuple((float(day), queens, workers) for day, queens, workers in looks)
    tables = tables_of_two if winters is TWO else tables_of_one
    got = math.exp(marginal(tables(k, looks, winters), rates)[0])
    known = WinterFounding(k, rates, winters).marginal(looks, points=81, nodes=8)
    assert got == pytest.approx(known, rel=2e-4)
    one_ratio = FAST.but(sigma=sigma, loading=0.8, winter_company=rates.ratio2)
    if looks[0][1] > 1 and looks[-1][1] != k:  # the ratio of winter is its own
        other = WinterFounding(k, one_ratio, winters).marginal(looks, points=81, nodes=8)
        assert abs(other / known - 1) > 0.01


SUMS = {
    "a trio, a look in the cold": (3, (40.0, 90.0, 165.0, 200.0), "bbbb", WINTER),
    "a pair, uneven": (2, (20.0, 48.0, 158.0, 180.0), "bbbb", WINTER),
    "workers not looked for in the cold": (2, (40.0, 90.0, 165.0), "bqb", WINTER),
    "queens not counted over winter": (3, (40.0, 160.0, 180.0), "bwb", WINTER),
    "workers not looked for at the end": (2, (40.0, 160.0, 180.0), "bqq", WINTER),
    "put to rest on the first day": (2, (60.0, 130.0, 160.0), "bbb", ((0.0, 100.0),)),
}


def spelled(k, calendar, sought, winters):
    """All that can be written, less what the cold forbids: a first worker seen in midwinter."""
    warm = WinterFounding(k, FAST, winters).warm
    sets = []
    for looks in possible(k, calendar, sought):
        first = next((i for i, look in enumerate(looks) if look[2]), None)
        before = [0.0, *(look[0] for look in looks[:first] if look[2] == 0)] if first else [0.0]
        if first is None or warm(looks[first][0]) > warm(before[-1]):
            sets.append((k, looks))
    return sets


@pytest.mark.parametrize("name", SUMS)
def test_everything_that_can_be_seen_through_winter_sums_to_one(name):
    k, calendar, sought, winters = SUMS[name]
    sets = spelled(k, calendar, sought, winters)
    tables = tables_of(packed_sets(sets, winters=winters))
    got = np.exp(marginal(tables, FAST))
    assert (got > 0).all()
    assert got.sum() == pytest.approx(1, abs=2e-6)
    records, rows, nodes = tables  # wrong: where nobody died, winter rest cost nothing
    quiet = (rows[:, at.PHASE] >= at.COLD) & (rows[:, at.BEFORE] == rows[:, at.AFTER])
    free = rows.copy()
    free[quiet, at.EXPOSURE] = 0.0
    assert np.exp(marginal((records, free, nodes), FAST)).sum() > 1.01


def test_a_winter_that_kills_nobody_leaves_the_days_outside_it():
    rates = FAST.but(winter=1e-12)
    for k, looks, winters in SEEN.values():
        warm = WinterFounding(k, rates, winters).warm
        days = [warm(float(look[0])) for look in looks]
        if len(set(days)) < len(days) or winters is TWO:
            continue  # two looks in one winter rest would fall on one day
        there = tuple((float(a), b, c) for a, b, c in looks)
        short = tuple((day, b, c) for day, (_, b, c) in zip(days, looks, strict=True))
        one = marginal(tables_of(packed_sets([(k, there)], winters=winters)), rates)
        other = marginal(tables_of(packed_sets([(k, short)])), rates)
        assert one == pytest.approx(other, abs=1e-6)


def test_the_gradient_is_that_of_finite_differences():
    sets = [(k, tuple((float(a), b, c) for a, b, c in looks)) for k, looks, _ in SEEN.values()]
    assert len(sets) > 15
    tables = tables_of(packed_sets(sets[:15], cell=4.0, winters=WINTER))
    rng = np.random.default_rng(8)
    rates = FAST.but(sigma=0.7, loading=0.8)
    par, shared = par_of(rates, 15), shared_of(rates)
    par[:, at.FRAILTY] = rng.normal(size=15)
    par[:, [at.HAZARD1, at.TOGETHER, at.HAZARD2, at.RIVALRY]] += rng.normal(0, 0.2, (15, 4))

    def value(one, two):
        return study_loglik(one, two, *tables)[0]

    _, d_par, d_shared = study_loglik(par, shared, *tables)
    columns = [
        *range(at.STEPS1, at.WITHIN_DAYS), at.WITHIN_DAYS, at.SIGMA, at.LOADING,
        at.WINTER, at.WINTER_COMPANY,
    ]  # fmt: skip
    for j in columns:
        up, down = shared.copy(), shared.copy()
        up[j] += 1e-5
        down[j] -= 1e-5
        slope = (value(par, up) - value(par, down)) / 2e-5
        assert d_shared[j] == pytest.approx(slope, rel=1e-5, abs=1e-6), j
    for f in range(15):
        for j in (at.HAZARD1, at.TOGETHER, at.HAZARD2, at.RIVALRY, at.LAST_FIGHT, at.LOG_DAY,
                  at.FERTILE, at.FRAILTY):  # fmt: skip
            up, down = par.copy(), par.copy()
            up[f, j] += 1e-5
            down[f, j] -= 1e-5
            slope = (value(up, shared) - value(down, shared)) / 2e-5
            assert d_par[f, j] == pytest.approx(slope, rel=1e-5, abs=1e-6), (f, j)


def test_a_horizon_that_ends_with_summer_changes_nothing():
    # followed through winter or not: up to the first winter day both are one
    sets = [(k, tuple((float(a), b, c) for a, b, c in looks)) for k, looks, _ in SEEN.values()]
    one = packed(history_of(sets, winters=WINTER, horizon_days=50))
    other = packed(history_of(sets, winters=WINTER, horizon_days=50, through_winter=False))
    assert (one.winter, other.winter) == (None, None)
    for name in ("records", "rows", "nodes"):
        assert np.array_equal(getattr(one, name), getattr(other, name))
    whole = packed(history_of(sets, winters=WINTER))
    assert whole.winter == (50.0, 100.0)
    assert (whole.rows[:, at.PHASE] >= at.COLD).any()


def test_the_stages_of_an_interval():
    got, before = stages(40.0, 60.0, 55.0, [(50.0, 30.0), (57.0, 9.0)])
    assert [phase for phase, _ in got] == [0, 2, 0, 1, 3, 1]
    assert before == 3
    assert [sum(days) for _, days in got] == [10.0, 30.0, 5.0, 2.0, 9.0, 3.0]
    assert stages(50.0, 50.0, math.inf, [(50.0, 30.0)]) == ([(2, [30.0])], 1)


def test_too_many_queens_for_a_loss_in_winter_is_said():
    with pytest.raises(StudyError, match="too many for a loss in winter rest"):
        packed_sets([(400, ((40.0, 400, 0), (160.0, 2, 0)))], winters=WINTER)
