"""The first brood: likelihood against a reference library, slopes against differences, recovery."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from scipy import stats

from cohort.history import FOUNDING_COLUMNS, History
from cohort.likelihood.callbacks import value_and_gradient
from cohort.model import brood
from cohort.model import brood_model as small


def foundings(rows: list[dict[str, object]]) -> History:
    """A history of foundings of which only the first brood matters."""
    base: dict[str, object] = dict.fromkeys(FOUNDING_COLUMNS, 0.0)
    base |= {"compared": True, "genus": "Lasius", "size": 1, "arm": "single", "first_by": 40.0,
             "first_after": 36.0, "brood_in": math.inf, "workers_cens": math.inf,
             "brood_day": math.nan, "brood_workers": math.nan}  # fmt: skip
    frame = pd.DataFrame([base | row for row in rows])
    empty = pd.DataFrame()
    return History(foundings=frame, intervals=empty, later=empty, horizon=160)


@pytest.mark.parametrize("x2", [1e-9, 1e-5, 0.01, 0.2, 1.5])
def test_counts_follow_the_negative_binomial_of_scipy(x2: float) -> None:
    mu = 11.3
    for y in (0, 1, 4, 30):
        above = np.ones(y)
        ours = small._counts_logp(y, 1, math.log(mu), x2)[0] + small._rising(above, x2)[0]
        ours -= math.lgamma(y + 1)
        theirs = stats.nbinom.logpmf(y, 1 / x2, 1 / (1 + mu * x2))
        if x2 < 1e-8:  # scipy cancels here; the limit is Poisson
            theirs = stats.poisson.logpmf(y, mu)
        assert ours == pytest.approx(theirs, abs=2e-6)
    assert ours != pytest.approx(stats.poisson.logpmf(30, mu), abs=1e-3) or x2 < 1e-4


def test_counts_share_what_hangs_on_no_mean(rng: np.random.Generator) -> None:
    """The density of many counts less its priors is the sum of their negative binomials."""
    workers = np.array([0, 1, 1, 4, 30, 7])
    n, priors = len(workers), small.BroodPriors()
    data = small.BroodData(
        ("A",), np.zeros(n, int), np.ones(n, int), workers, np.full(n, 30.0), (1,), 0
    )
    none = dataclasses.replace(
        data,
        genus_code=data.genus_code[:0],
        size=data.size[:0],
        workers=workers[:0],
        since=data.since[:0],
    )
    q = 0.4 * rng.normal(size=small.FIRST_Z + 2)
    counted, alone = (small.brood_logp(q, small.uncentred(d, priors))[0] for d in (data, none))
    drawn = small.named_draws(q[None], priors, 1)
    mu, x2 = math.exp(drawn.level[0, 0]), drawn.dispersion[0] ** 2
    theirs = stats.nbinom.logpmf(workers, 1 / x2, 1 / (1 + mu * x2))
    want = (theirs + [math.lgamma(y + 1) for y in workers]).sum()
    assert counted - alone == pytest.approx(want, abs=1e-8)
    assert counted - alone != pytest.approx(want - math.log1p(x2), abs=1e-3)  # one factor missed


def test_counts_of_one_mean_enter_by_their_sum(rng: np.random.Generator) -> None:
    """Two foundings of one genus, size and day as one with both their workers, and no others."""

    def density(workers: list[int], since: list[float]) -> float:
        ones = np.ones(len(workers), int)
        data = small.BroodData(("A",), 0 * ones, ones, np.array(workers), np.array(since), (1,), 0)
        packed = small.uncentred(data, small.BroodPriors())
        assert (packed.size - small.HEAD - small.PRIORS - max(workers)) / 5 == len(set(since))
        return float(small.brood_logp(q, packed)[0])

    q = 0.4 * rng.normal(size=small.FIRST_Z + 2)
    x2 = small.named_draws(q[None], small.BroodPriors(), 1).dispersion[0] ** 2
    # what hangs on no mean: (1 + x2) of a count of two, and that of counts of three and one
    rising = 2 * math.log1p(x2) - (math.log1p(x2) + math.log1p(2 * x2))
    same = density([2, 2], [30.0, 30.0]) - density([3, 1], [30.0, 30.0])
    assert same == pytest.approx(rising, abs=1e-10)
    apart = density([2, 2], [30.0, 44.0]) - density([3, 1], [30.0, 44.0])
    assert abs(apart - rising) > 1e-3  # another day, another mean


def test_slopes_are_those_of_finite_differences(rng: np.random.Generator) -> None:
    genera, n = 3, 20
    data = small.BroodData(
        tuple("ABC"),
        rng.integers(0, genera, n),
        np.where(rng.random(n) < 0.5, 1, 3),
        rng.integers(1, 30, n),
        rng.uniform(20, 45, n),
        (1, 3),
        0,
    )
    given = small.uncentred(data, small.BroodPriors())
    assert given[0] == given.size
    for scale in (0.3, 1.0):
        q = scale * rng.normal(size=small.FIRST_Z + 2 * genera)
        _, gradient = small.brood_logp(q, given)
        for j in range(len(q)):
            step = np.zeros(len(q))
            step[j] = 1e-5
            rise = small.brood_logp(q + step, given)[0] - small.brood_logp(q - step, given)[0]
            assert gradient[j] == pytest.approx(rise / 2e-5, rel=2e-5, abs=2e-5), j


def test_without_counts_the_posterior_is_the_prior() -> None:
    priors = small.BroodPriors()
    none = np.zeros(0, np.int64)
    data = small.BroodData(("A", "B"), none, none, none, np.zeros(0), (1, 3), 0)
    q, _ = small.sample(data, priors, 5, 1500, 0.9)
    post = small.named_draws(q.reshape(-1, q.shape[2]), priors, 1)
    alone = small.prior_draws(2, priors, 2, 6000)
    for name in ("level", "ratio", "day", "dispersion", "size_step"):
        ours, theirs = getattr(post, name), getattr(alone, name)
        assert np.quantile(ours, [0.1, 0.5, 0.9]) == pytest.approx(
            np.quantile(theirs, [0.1, 0.5, 0.9]), abs=0.06
        ), name
    # a genus's level: Normal(mean, sqrt(sd^2 + between^2)); its variance is known in closed form
    between = priors.between[0]
    assert alone.level[:, 0].var() == pytest.approx(priors.mean[1] ** 2 + between**2, rel=0.08)
    assert alone.level[:, -1].var() == pytest.approx(priors.mean[1] ** 2 + between**2, rel=0.08)


def made(rng: np.random.Generator, n: int = 40) -> History:
    """Counts of two genera at 10 and 20 workers, groups of three with half as many again."""
    rows: list[dict[str, object]] = []
    for genus, mean in (("Lasius", 10.0), ("Messor", 20.0)):
        for i in range(n):
            size = 1 if i % 2 else 3
            mu = mean * (1.5 if size == 3 else 1.0)
            since = float(rng.integers(20, 46))
            mu *= math.exp(0.03 * (since - 30.0))
            workers = rng.poisson(mu * rng.gamma(10.0, 0.1))
            rows.append({"genus": genus, "size": size, "arm": "single" if size == 1 else "multi",
                         "brood_day": 40.0 + since, "brood_workers": float(workers)})  # fmt: skip
    return foundings(rows)


def test_rows_bear_the_truth_and_the_columns_of_the_table(rng: np.random.Generator) -> None:
    from cohort.outcomes.table import COLUMNS

    found = brood.brood_rows(made(rng), 3)
    rows = found.rows
    assert found.notes == ()
    assert set(rows.columns) == set(COLUMNS)
    assert set(rows["arm"]) == {"single", "multi", "ratio"}
    got = rows.set_index(["genus", "arm"])
    for (genus, arm), truth in {
        ("Lasius", "single"): 10.0, ("Messor", "single"): 20.0, ("Lasius", "multi"): 15.0,
        ("Messor", "multi"): 30.0, ("Lasius", "ratio"): 1.5, ("average", "ratio"): 1.5,
    }.items():  # fmt: skip
        row = got.loc[(genus, arm)]
        assert row["low"] < truth < row["high"], (genus, arm)
    ratio = got.loc[("average", "ratio")]
    assert ratio["chance_multi_better"] > 0.95
    assert 0.6 < ratio["prior_chance_multi_better"] < 0.85
    assert ratio["foundings"] == 80
    assert not ratio["prior_rules"]
    assert got.loc[("Lasius", "single"), "foundings"] == 20


def test_chances_at_other_strengths_are_those_of_fits_with_scaled_priors() -> None:
    """Few counts, against what the priors say of groups: weighted draws v a fit of its own."""
    rows: list[dict[str, object]] = [
        {"genus": genus, "size": size, "arm": "single" if size == 1 else "multi",
         "brood_day": 70.0, "brood_workers": workers}
        for genus in ("Lasius", "Messor") for size, workers in ((1, 9.0), (1, 10.0), (3, 7.0))
    ]  # fmt: skip
    history, priors = foundings(rows), small.BroodPriors()
    scaled = brood.brood_rows(history, 1).scaled.set_index(["genus", "queens"])
    assert set(scaled.index) == {(g, 3) for g in ("Lasius", "Messor", "average", "new")}
    again = {
        name: _better(brood.brood_rows(history, 2, priors=priors.at_strength(power)))
        for name, power in (("half", 0.5), ("double", 2.0))
    }
    for name, fitted in again.items():
        for genus in ("Lasius", "average"):
            assert scaled.loc[(genus, 3), name] == pytest.approx(fitted[genus], abs=0.035)
    # the strength matters by more than that: taken for the other, each would be found out
    assert again["double"]["average"] - again["half"]["average"] > 0.1


def _better(found: brood.FirstBrood) -> pd.Series:
    ratios = found.rows[found.rows["arm"] == "ratio"]
    return ratios.set_index("genus")["chance_multi_better"]


def test_the_day_of_the_count_is_allowed_for(rng: np.random.Generator) -> None:
    """Singles counted late, groups early: without the slope the ratio would be far off."""
    rows: list[dict[str, object]] = []
    for i in range(80):
        size = 1 if i % 2 else 3
        since = 44.0 - i % 3 if size == 1 else 21.0 + i % 3
        spread = {0: 30.0, 1: 44.0}[int(i % 10 == 5)]
        since = since if i % 10 else spread
        mu = 10.0 * math.exp(0.05 * (since - 30.0))
        rows.append({"size": size, "brood_day": 40.0 + since,
                     "brood_workers": float(rng.poisson(mu))})  # fmt: skip
    history = foundings(rows)
    with_slope = brood.brood_rows(history, 1).rows
    stiff = dataclasses.replace(small.BroodPriors(), day=(0.0, 1e-6))
    without = brood.brood_rows(history, 1, priors=stiff).rows
    ratio, wrong = (
        t[(t["arm"] == "ratio") & (t["genus"] == "Lasius")].iloc[0] for t in (with_slope, without)
    )
    assert ratio["low"] < 1.0 < ratio["high"]
    assert wrong["high"] < 0.7


def played(monkeypatch: pytest.MonkeyPatch, apart: int) -> list[tuple[int, float]]:
    """Draws near the middle of the priors, one chain away from the others in so many runs.

    Filled with what the sampler is asked for: draws, and the acceptance to aim at.
    """
    asked: list[tuple[int, float]] = []

    def drawn(
        density: object, packed: object, width: int, start: object, *, draws: int, accept: float,
        **_: object,
    ) -> tuple[np.ndarray, xr.Dataset]:  # fmt: skip
        asked.append((draws, accept))
        rng = np.random.default_rng(2)
        q = rng.normal(0.0, 0.1, (4, draws, width))
        q[0] += 3.0 * (len(asked) <= apart)
        own = {"diverging": np.zeros((4, draws), bool), "energy": rng.normal(size=(4, draws)),
               "depth": np.ones((4, draws)), "n_steps": np.ones((4, draws))}  # fmt: skip
        return q, xr.Dataset({name: (("chain", "draw"), value) for name, value in own.items()})

    monkeypatch.setattr(small, "sample_nuts", drawn)
    return asked


def few_counts() -> History:
    """Two singles and a group of three in Lasius, a single in Messor, one with foreign brood."""
    rows: list[dict[str, object]] = [
        {"genus": genus, "size": size, "arm": "single" if size == 1 else "multi",
         "brood_day": 70.0, "brood_workers": 9.0}
        for genus, size in (("Lasius", 1), ("Lasius", 1), ("Lasius", 3), ("Messor", 1))
    ]  # fmt: skip
    return foundings([*rows, {"brood_in": 50.0}])


def test_rows_count_the_foundings_behind_them(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = played(monkeypatch, 1)
    found = brood.brood_rows(few_counts(), 5)
    assert asked == [(brood.DRAWS, 0.9), (2 * brood.DRAWS, 0.99)]  # again: chains did not agree
    assert found.notes == ("First brood: 1 founding given foreign brood left out.",)
    got = found.rows.set_index(["genus", "arm"])
    behind = {("Lasius", "single"): 2, ("Lasius", "multi"): 1, ("Lasius", "ratio"): 3,
              ("Messor", "single"): 1, ("Messor", "multi"): 0, ("Messor", "ratio"): 1,
              ("average", "ratio"): 4, ("new", "multi"): 1}  # fmt: skip
    for key, count in behind.items():
        assert got.loc[key, "foundings"] == count, key
        assert got.loc[key, "carried_over"] == (key in {("Messor", "multi"), ("Messor", "ratio")})
    # every draw lies near the middle of the priors: ten workers, and e^.3 times as many of three
    assert got.loc[("Lasius", "single"), "mean"] == pytest.approx(10.0, rel=0.05)
    ratio = got.loc[("Lasius", "ratio")]
    assert ratio["mean"] == pytest.approx(math.exp(0.3), rel=0.05)
    assert ratio["low"] < math.exp(0.3) < ratio["high"]
    assert set(found.scaled["genus"]) == {"Lasius", "Messor", "average", "new"}
    assert set(found.scaled["queens"]) == {3}


def test_chains_that_never_agree_give_no_rows(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = played(monkeypatch, 2)
    found = brood.brood_rows(few_counts(), 5)
    assert len(asked) == 2
    assert found.rows.empty
    assert found.scaled.empty
    assert found.notes[-1].startswith("First brood: not settled (")


def test_the_sampler_is_handed_the_density_and_places_to_start_from(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    data, priors = brood.brood_data(few_counts()), small.BroodPriors()
    given: list[tuple[object, ...]] = []
    monkeypatch.setattr(small, "sample_nuts", lambda *own, **_: given.append(own))
    small.sample(data, priors, 5, 100, 0.9)
    ((density, packed, width, start),) = given
    q = start(3)
    assert q.shape == (width,) == (small.FIRST_Z + 4,)
    assert np.abs(q).max() <= 2.0
    assert (start(4) != q).all()
    value, gradient = value_and_gradient(density, q, packed)
    want, slopes = small.brood_logp(q, packed)
    assert value == pytest.approx(want)
    assert gradient == pytest.approx(slopes)


def test_one_way_without_a_count_gives_no_rows_and_says_so() -> None:
    history = foundings([{"brood_day": 70.0, "brood_workers": 9.0}, {"size": 3, "arm": "multi"}])
    found = brood.brood_rows(history, 1)
    assert found.rows.empty
    assert found.scaled.empty
    assert "several queens" in found.notes[0]


def test_foreign_brood_is_set_apart_and_counted() -> None:
    data = brood.brood_data(foundings([
        {"brood_in": 50.0}, {"brood_day": 70.0, "brood_workers": 9.0}, {"first_by": math.inf},
    ]))  # fmt: skip
    assert data.apart == 1
    assert data.workers.tolist() == [9]
    assert data.since.tolist() == [30.0]


@pytest.mark.slow
def test_ranges_hold_the_truth_as_often_as_they_say() -> None:
    """Sixty studies drawn from the priors: 90 % ranges of ratio, level and slope, 2 genera."""
    priors = small.BroodPriors()
    truth = small.prior_draws(2, priors, 77, 60)
    inside: list[bool] = []
    for i in range(60):
        rng = np.random.default_rng(1000 + i)
        genus, size = np.repeat([0, 1], 12), np.tile([1, 3], 12)
        since = rng.uniform(20, 45, 24)
        eta = truth.level[i, genus] + truth.day[i] * (since - small.CENTRE)
        log_ratio = truth.ratio[i, genus] + truth.size_step[i] * math.log2(1.5)
        eta += np.where(size == 3, log_ratio, 0.0)
        shape = truth.dispersion[i] ** -2
        workers = rng.poisson(np.exp(eta) * rng.gamma(shape, 1 / shape, 24))
        data = small.BroodData(("A", "B"), genus, size, workers, since, (1, 3), 0)
        q, _ = small.sample(data, priors, i, 300, 0.9)
        post = small.named_draws(q.reshape(-1, q.shape[2]), priors, i)
        for name in ("ratio", "level", "day"):
            drawn, true = getattr(post, name), getattr(truth, name)[i]
            low, high = np.quantile(drawn, [0.05, 0.95], axis=0)
            inside += np.ravel((low < true) & (true < high)).tolist()[:2]
    assert 0.86 < np.mean(inside) < 0.94
