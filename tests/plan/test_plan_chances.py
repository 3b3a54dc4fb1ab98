"""Chances of a plan against foundings lived through one event at a time, and by identities."""

import math
from dataclasses import replace

import numpy as np
import pytest
from plan_made import KNOWN, basis, spread

from cohort.likelihood import layout as at
from cohort.outcomes.basis import Kind
from cohort.plan import plan
from cohort.plan.chances import chances
from cohort.simulate.events import run

LASIUS = Kind("Lasius", 0)
FOUNDINGS = 40_000
DAY = 160


@pytest.fixture(scope="module")
def simulated():
    """Colonies, living queens and first worker of foundings of each size, event by event."""
    rng = np.random.default_rng(11)
    out = {}

    def lived(k):
        paths = run(FOUNDINGS, k, KNOWN, rng, float(DAY))
        colony = (paths.first_worker <= DAY) & (paths.alive(DAY) > 0)
        return colony.astype(int), paths.alive(DAY), paths.first_worker

    for parts in {
        (6,),
        (5, 1),
        (4, 2),
        (4, 1, 1),
        (3, 3),
        (3, 2, 1),
        (3, 1, 1, 1),
        (2, 2, 2),
        (2, 2, 1, 1),
        (2, 1, 1, 1, 1),
        (1,) * 6,
    }:
        each = [lived(k) for k in parts]
        out[parts] = (
            sum(one[0] for one in each),
            sum(one[1] for one in each),
            np.minimum.reduce([one[2] for one in each]),
        )
    return out


@pytest.fixture(scope="module")
def six():
    return plan(6, LASIUS, basis(KNOWN), largest=6, day=DAY)


def four_se(values):
    return 4 * max(values.std() / math.sqrt(len(values)), 1e-3)


def test_all_partitions_of_six_are_there(six, simulated):
    assert set(six.table["parts"]) == set(simulated)


def test_every_division_of_six_is_as_simulated(six, simulated):
    for row in six.table.itertuples():
        colonies, alive, _ = simulated[row.parts]
        for said, seen in (
            (row.at_least_one, colonies >= 1),
            (row.at_least_two, colonies >= 2),
            (row.colonies, colonies),
            (row.all_lost, alive == 0),
        ):
            assert abs(said - seen.mean()) < four_se(seen), (row.division, said, seen.mean())


def test_first_workers_come_when_they_do_in_simulation(six, simulated):
    for row in six.table.itertuples():
        first = simulated[row.parts][2]
        first = first[first <= DAY]
        # standard error of a median from the order statistics one binomial SD to either side
        half = 0.5 / math.sqrt(len(first))
        low, high = np.quantile(first, [0.5 - half, 0.5 + half])
        assert abs(row.first_workers_day - np.median(first)) < 4 * (high - low) / 2 + 0.1


def test_a_plan_that_forgets_the_last_fight_would_be_found_out(simulated):
    wrong = plan(6, LASIUS, basis(replace(KNOWN, last_fight=0.0)), largest=6, day=DAY)
    row = wrong.table[[p == (6,) for p in wrong.table["parts"]]].iloc[0]
    colonies = simulated[(6,)][0] >= 1
    assert abs(row["at_least_one"] - colonies.mean()) > four_se(colonies)


def test_each_alone_is_one_minus_all_failing_averaged_after():
    stands_on = basis(*spread(300, 2))
    one = chances(stands_on.draws, 0, (1,), DAY).seen[:, 0]
    for n in (1, 8, 3):
        table = plan(n, LASIUS, stands_on, largest=1, day=DAY).table
        assert table["at_least_one"].item() == pytest.approx((1 - (1 - one) ** n).mean(), abs=1e-12)
        assert table["colonies"].item() == pytest.approx(n * one.mean(), abs=1e-12)
    # averaged first it would be another number, and a rosier one
    assert 1 - (1 - one.mean()) ** 3 > table["at_least_one"].item() + 0.003


def test_at_least_two_is_the_rest_of_none_and_one_by_enumeration():
    stands_on = basis(*spread(50, 3))
    table = plan(4, LASIUS, stands_on, largest=3, day=DAY).table
    each = chances(stands_on.draws, 0, (1, 2, 3), DAY).seen
    for row in table.itertuples():
        p = each[:, [k - 1 for k in row.parts]]
        whole = np.zeros(len(p))
        for kept in np.ndindex(*(2,) * p.shape[1]):
            if sum(kept) >= 2:
                whole += np.prod(np.where(np.array(kept) == 1, p, 1 - p), axis=1)
        assert row.at_least_two == pytest.approx(whole.mean(), abs=1e-12)


def test_odd_days_lie_between_the_even_ones():
    stands_on = basis(KNOWN)
    before, odd, after = (chances(stands_on.draws, 0, (3,), d) for d in (120, 121, 122))
    for name in ("seen", "lasting", "lost"):
        low, mid, high = (getattr(c, name).item() for c in (before, odd, after))
        assert min(low, high) - 1e-5 <= mid <= max(low, high) + 1e-5


def test_queens_of_a_lone_founding_are_lost_as_simulated_on_an_early_day():
    # before any worker can come the loss is the founding hazard alone
    said = chances(basis(KNOWN).draws, 0, (1,), 20).lost.item()
    paths = run(FOUNDINGS, 1, KNOWN, np.random.default_rng(4), 20.0)
    gone = paths.alive(20.0) == 0
    assert abs(said - gone.mean()) < four_se(gone)


def test_covariates_are_averaged_inside_each_draw():
    plain = basis(KNOWN).draws
    added = np.zeros((1, at.PARTS, 2))
    added[0, at.P_BEFORE] = -0.7, 0.7
    rows = replace(plain, added=added, share=np.array([0.25, 0.75]))
    mixed = chances(rows, 0, (1, 3), 20).lost
    parts = [
        chances(
            basis(replace(KNOWN, log_hazard=KNOWN.log_hazard + shift)).draws, 0, (1, 3), 20
        ).lost
        for shift in (-0.7, 0.7)
    ]
    np.testing.assert_allclose(mixed, 0.25 * parts[0] + 0.75 * parts[1], atol=1e-12)
