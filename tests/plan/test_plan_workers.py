"""Workers of a division: by pen, against scipy, and against foundings thrown one at a time."""

import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from plan_made import KNOWN, basis, spread
from scipy.stats import binom, gamma, norm, pearsonr

from cohort.model.brood_model import BroodPriors
from cohort.outcomes.basis import Kind, prior_basis
from cohort.plan import plan
from cohort.plan.broods import broods
from cohort.plan.plan import _per_draw, _told
from cohort.plan.strongest import in_all, points, strongest

NONE = np.zeros((1, 2))


def test_strongest_by_pen_without_spread():
    # alone: chance .5, 10 workers; a group: chance .8, 16 workers
    chance, workers = np.array([[0.5, 0.8]]), np.array([[10.0, 16.0]])
    got = strongest(chance, workers, NONE, np.array([[3, 0], [0, 1], [1, 1]]))[:, 0]
    # three alone: 10 x (1 - .5^3) = 8.75; the group .8 x 16 = 12.8
    # both: 16 with .8, else 10 with .5: 12.8 + .2 x .5 x 10 = 13.8
    assert got == pytest.approx([8.75, 12.8, 13.8], abs=1e-6)
    # in all: 15, 12.8, 5 + 12.8
    assert in_all(chance, workers, np.array([[3, 0], [0, 1], [1, 1]]))[:, 0] == pytest.approx(
        [15.0, 12.8, 17.8]
    )


def test_a_group_with_a_small_brood_falls_behind_by_pen():
    chance, counts = np.array([[0.5, 0.8]]), np.array([[3, 0], [0, 1]])
    # equal at 8.75 / .8 = 10.9375 workers
    for workers, ahead in ((10.9, False), (11.0, True)):
        three, group = strongest(chance, np.array([[10.0, workers]]), NONE, counts)[:, 0]
        assert (group > three) is np.bool_(ahead)


def test_strongest_with_spread_is_that_of_foundings_thrown_one_at_a_time():
    rng = np.random.default_rng(8)
    chance, workers = np.array([[0.55, 0.8]]), np.array([[10.0, 15.0]])
    variation = np.array([[0.6, 0.4]])
    thrown = 200_000

    def founding(j):
        shape = 1 / variation[0, j] ** 2
        many = gamma.rvs(shape, scale=workers[0, j] / shape, size=thrown, random_state=rng)
        return np.where(rng.random(thrown) < chance[0, j], many, 0.0)

    for counts in ((3, 0), (0, 1), (4, 2)):
        all_of = [founding(j) for j in (0, 1) for _ in range(counts[j])]
        seen = np.max(all_of, axis=0)
        said = strongest(chance, workers, variation, np.array([counts])).item()
        # fifteen points stand for the gamma: a little short in the tail
        assert said == pytest.approx(seen.mean(), rel=0.02)
    # the spread counts: left out, three queens alone would look weaker by a fifth or more
    three = np.array([[3, 0]])
    without = strongest(chance, workers, NONE, three).item()
    assert without < 0.85 * strongest(chance, workers, variation, three).item()


def test_points_have_mean_one_and_about_the_spread_asked_for():
    cv = np.array([0.0, 0.3, 0.8])
    got = points(cv, 400)
    assert got.mean(axis=-1) == pytest.approx([1, 1, 1])
    assert got.std(axis=-1) == pytest.approx(cv, abs=0.02)


def test_independent_containers_are_binomial():
    """Colonies of n alike containers: scipy.stats.binom, the textbook law of n trials."""
    p, n = np.array([[0.3], [0.62], [0.97]]), 7
    one, two, colonies = (a[0] for a in _per_draw(p, np.array([[n]])))
    law = binom(n, p[:, 0])
    np.testing.assert_allclose(one, law.sf(0), atol=1e-12)
    np.testing.assert_allclose(two, law.sf(1), atol=1e-10)
    np.testing.assert_allclose(colonies, law.mean(), atol=1e-12)
    # containers that all share one fate would be another law
    assert abs(one[0] - p[0, 0]) > 0.1


# --- the first brood of results and of priors ----------------------------------------------------


def rows(sd=(0.2, 0.15), tied=-0.5, one=12.0, ratio=1.6):
    """Rows as a comparison writes them for log-normal draws of known width and correlation."""
    z = norm.ppf(0.95)
    whole = math.sqrt(sd[0] ** 2 + sd[1] ** 2 + 2 * tied * sd[0] * sd[1])

    def row(arm, queens, log_mean, width, plain):
        mean = math.exp(log_mean + (width**2 / 2 if plain else 0))
        ends = (math.exp(log_mean - z * width), math.exp(log_mean + z * width))
        return ("Lasius", arm, queens, mean, *ends, 0.9)

    table = [row("single", 1, math.log(one), sd[0], True)]
    for k in (2, 3):
        table.append(row("multi", k, math.log(one * ratio), whole, True))
        table.append(row("ratio", k, math.log(ratio), sd[1], False))
    return pd.DataFrame(table, columns=["genus", "arm", "queens", "mean", "low", "high", "level"])


def counts(beyond, size=1, many=120, mean=12.0):
    rng = np.random.default_rng(21)
    own = mean if beyond == 0 else rng.gamma(1 / beyond**2, mean * beyond**2, many)
    return pd.DataFrame(
        {"genus": "Lasius", "size": size, "first_by": 50.0, "brood_day": 80.0,
         "brood_workers": rng.poisson(own, many).astype(float)}
    )  # fmt: skip


def resting_on(table, counted=None, draws=4000):
    known = basis(*spread(20, 1))
    # as many draws as asked for: those of the founding model do not matter here
    again = np.arange(draws) % 20
    own = replace(known.draws, params=known.draws.params[again], shared=known.draws.shared[again])
    return replace(
        known, draws=own, brood=table, brood_counts=counts(0.0) if counted is None else counted
    )


def test_rows_come_back_from_the_draws_made_of_them():
    got = broods(resting_on(rows()), 0, (1, 2, 3))
    assert not got.assumed
    log = np.log(got.workers)
    ratio = log[:, 2] - log[:, 0]
    se = 4 / math.sqrt(4000)
    assert log[:, 0].mean() == pytest.approx(math.log(12.0), abs=0.2 * se)
    assert log[:, 0].std() == pytest.approx(0.2, rel=se)
    assert ratio.mean() == pytest.approx(math.log(1.6), abs=0.15 * se)
    assert ratio.std() == pytest.approx(0.15, rel=se)
    assert pearsonr(log[:, 0], ratio).statistic == pytest.approx(-0.5, abs=se)
    # drawn apart, groups would be given too wide a range
    assert log[:, 2].std() == pytest.approx(math.sqrt(0.2**2 + 0.15**2 - 0.03), rel=se)
    assert log[:, 2].std() < 0.85 * math.hypot(0.2, 0.15)


def test_sizes_beyond_the_rows_are_carried_over_with_a_wider_range():
    got = np.log(broods(resting_on(rows()), 0, (1, 3, 12)).workers)
    near, far = got[:, 1] - got[:, 0], got[:, 2] - got[:, 0]
    assert far.mean() == pytest.approx(near.mean(), abs=0.03)
    # two doublings beyond three, .2 each
    assert far.std() == pytest.approx(math.hypot(0.15, 2 * BroodPriors().size_step), rel=0.05)


@pytest.mark.parametrize("beyond", [0.0, 0.4, 0.8])
def test_the_spread_between_foundings_is_read_off_the_counts(beyond):
    got = broods(resting_on(rows(), counts(beyond)), 0, (1, 2)).beyond
    assert got.mean() == pytest.approx(beyond, abs=0.12)


def test_a_count_late_in_the_brood_is_no_sign_of_spread():
    # 45 days after the first the brood is larger: exp(.02 x 15) = 1.35 times, by the prior
    late = counts(0.0, mean=12.0 * math.exp(0.3)).assign(brood_day=95.0)
    told = broods(resting_on(rows(), late), 0, (1, 2)).beyond.mean()
    untold = broods(resting_on(rows(), late.assign(brood_day=80.0)), 0, (1, 2)).beyond.mean()
    assert told < 0.12
    assert untold > told + 0.1


def test_without_counts_the_priors_of_the_first_brood_speak_and_it_is_known():
    got = broods(basis(*spread(3000, 1)), 0, (1, 2, 3))
    assert got.assumed
    log = np.log(got.workers)
    priors = BroodPriors()
    se = 4 / math.sqrt(3000)
    # a kind not yet tried: mean, and the half-normal spread between kinds (variance .5^2, .3^2)
    sd = math.hypot(priors.mean[1], priors.between[0])
    assert log[:, 0].mean() == pytest.approx(priors.mean[0], abs=sd * se)
    assert log[:, 0].std() == pytest.approx(sd, rel=2 * se)
    ratio = log[:, 1] - log[:, 0]
    assert ratio.mean() == pytest.approx(0.3, abs=0.6 * se)
    assert ratio.std() == pytest.approx(math.hypot(0.5, 0.3), rel=2 * se)


def test_a_kind_of_another_genus_goes_by_the_row_of_a_new_one():
    table = pd.concat([rows(), rows(one=30.0).assign(genus="new")])
    got = broods(resting_on(table), -1, (1, 2))
    assert np.exp(np.log(got.workers[:, 0]).mean()) == pytest.approx(30.0, rel=0.02)


def test_a_plan_says_when_no_first_brood_was_counted():
    from cohort.plan.words import sentences

    bare = plan(3, Kind("Lasius", 0), basis(KNOWN), day=160, want="workers")
    assert any("No first brood was counted" in line for line in sentences(bare))
    full = replace(basis(KNOWN), brood=rows(), brood_counts=counts(0.3))
    assert not any(
        "No first brood was counted" in line
        for line in sentences(plan(3, Kind("Lasius", 0), full, day=160, want="workers"))
    )


def test_workers_of_a_plan_are_chances_times_broods():
    stands_on = resting_on(rows(), draws=300)
    what = plan(3, Kind("Lasius", 0), stands_on, largest=3, day=160, want="workers")
    from cohort.plan.chances import chances

    seen = chances(stands_on.draws, 0, (1, 2, 3), 160).seen
    many = broods(stands_on, 0, (1, 2, 3)).workers
    row = what.table[what.table["division"] == "2 + 1"].iloc[0]
    by_draw = seen[:, 0] * many[:, 0] + seen[:, 1] * many[:, 1]
    assert row["workers_in_all"] == pytest.approx(by_draw.mean())
    group = what.table[what.table["division"] == "3"].iloc[0]
    assert group["workers_strongest"] == pytest.approx((seen[:, 2] * many[:, 2]).mean())


def test_many_divisions_are_worked_out_from_fewer_draws_to_about_the_same():
    few = plan(12, Kind("", -1), prior_basis(draws=1000), largest=12, want="workers")
    assert len(few.table) == 77
    more = plan(20, Kind("", -1), prior_basis(draws=1000), largest=12, want="workers")
    assert len(more.table) > 150
    assert more.table["workers_strongest"].notna().all()


def test_days_of_winter_rest_are_said_not_to_be_among_the_thirty():
    learnt = basis(KNOWN)
    cold = replace(learnt, draws=replace(learnt.draws, winter=(150.0, 100.0)))
    kind = Kind("Lasius", 0)
    told = {
        (through, want): "workers_winter"
        in [one.key for one in _told(of, kind, 3, 120, True, want)]
        for through, of in (("winter", cold), ("summer", learnt))
        for want in ("one", "workers")
    }
    assert [what for what, said in told.items() if said] == [("winter", "workers")]
