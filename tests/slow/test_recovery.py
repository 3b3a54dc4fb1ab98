"""Recovery: what the model finds in studies whose truth is known.

The studies are lived through event by event by a simulator that shares no formula with the
likelihood. Small studies cannot see a wrong outcome formula; the large one can.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from arviz_stats.base import array_stats
from by_rows import Rates
from numba import cfunc, njit
from scenes import history_of, lived

from cohort.history import history
from cohort.likelihood import assembly, callbacks, density
from cohort.model import coordinates, sample
from cohort.model.asked import fit
from cohort.model.gate import flat
from cohort.model.loo import leave_one_out
from cohort.model.pointwise import pointwise
from cohort.model.predictive import checks
from cohort.outcomes import outcomes, posterior_draws
from cohort.outcomes.quantities import colony
from cohort.simulate.design import Design
from cohort.simulate.events import run
from cohort.simulate.season import simulate_study
from cohort.simulate.truth import GenusTruth, Truth
from cohort.study import read_study

pytestmark = pytest.mark.slow

READING_OF = {"chance_per_founding": "seen", "chance_lasting": "alike"}
SHARED = {"within_days": 0.15, "mated": 0.85, "frailty": 0.5}
GENERA = {
    "Lasius": GenusTruth(
        log_hazard=math.log(0.004), together=-0.3, rivalry=2.2, last_fight=0.3,
        log_median_day=math.log(42.0), **SHARED,
    ),
    "Messor": GenusTruth(
        log_hazard=math.log(0.003), together=0.6, rivalry=0.3, last_fight=0.1,
        log_median_day=math.log(55.0), **SHARED,
    ),
    "Formica": GenusTruth(
        log_hazard=math.log(0.006), together=0.2, rivalry=1.2, last_fight=0.2,
        log_median_day=math.log(48.0), **SHARED,
    ),
    "Camponotus": GenusTruth(
        log_hazard=math.log(0.002), together=0.9, rivalry=1.8, last_fight=0.15,
        log_median_day=math.log(60.0), **SHARED,
    ),
    "Pogonomyrmex": GenusTruth(
        log_hazard=math.log(0.005), together=-0.7, rivalry=-0.2, last_fight=0.1,
        log_median_day=math.log(45.0), **SHARED,
    ),
    "Solenopsis": GenusTruth(
        log_hazard=math.log(0.0035), together=0.0, rivalry=1.5, last_fight=0.4,
        log_median_day=math.log(38.0), **SHARED,
    ),
}  # fmt: skip


def some(*names):
    return {name: GENERA[name] for name in names}


def past_of(folder, truth, seed, *, foundings, sizes=(1, 3), look_every=7, horizon=160, **more):
    """History of a simulated season, read from its sheets like any other."""
    design = Design(
        foundings=foundings, sizes=sizes, look_every=look_every, horizon=horizon, **more
    )
    simulate_study(design, Truth(truth), seed).write(folder)
    return history(read_study(folder))


def post_of(found, sizes, horizon=160):
    drawn = posterior_draws(found.posterior, found.design, found.priors, seed=1)
    return outcomes(drawn, sizes, horizon)


def true_chances(truth, sizes, horizon, n=200_000):
    """Chance of a lasting colony and of a colony as seen, by genus and size, simulated."""
    rng = np.random.default_rng(77)
    out = {}
    for name, own in truth.items():
        for k in sizes:
            paths = run(n, k, own, rng, horizon)
            workers = paths.first_worker <= horizon
            out[name, k, "chance_lasting"] = (workers & (paths.mated_alive(horizon) > 0)).mean()
            out[name, k, "chance_per_founding"] = (workers & (paths.alive(horizon) > 0)).mean()
    return out


def errors_of(post, truth, sizes, horizon=160):
    """Posterior mean minus truth, and whether the 90 % interval holds it, by genus and size."""
    rows = []
    for (name, k, quantity), value in true_chances(truth, sizes, horizon).items():
        draws = post.values[colony(k, horizon, READING_OF[quantity])][:, post.kinds.index(name)]
        low, high = np.quantile(draws, [0.05, 0.95])
        rows.append((name, k, quantity, draws.mean() - value, low <= value <= high))
    return rows


def report(rows):
    for row in rows:
        print(*(f"{v:.4f}" if isinstance(v, float) else v for v in row))


def test_three_hundred_foundings(tmp_path):
    truth = some("Lasius", "Messor", "Formica")
    past = past_of(tmp_path / "s", truth, 21, foundings=300)
    found = fit(past, seed=3)
    rows = errors_of(post_of(found, (1, 3)), truth, (1, 3))
    report(rows)
    gap = np.array([row[3] for row in rows])
    print("rmse", math.sqrt((gap**2).mean()), "inside", sum(row[4] for row in rows), len(rows))
    assert math.sqrt((gap**2).mean()) < 0.05
    known = {
        "founding_hazard": "log_hazard",
        "together": "together",
        "worker_hazard": "log_hazard_workers",
        "rivalry": "rivalry",
        "first_worker": "log_median_day",
    }
    inside = []
    for effect, own in known.items():
        for name, value in truth.items():
            draws = found.posterior[effect].sel(genus=name).to_numpy().ravel()
            low, high = np.quantile(draws, [0.05, 0.95])
            inside.append(low <= getattr(value, own) <= high)
            print(effect, name, getattr(value, own), low, high)
    assert np.mean(inside) >= 0.7  # 15 intervals of 90 %, fewer than 11 in one of 300 studies


# --- frailties sampled, or integrated out -------------------------------------------------------


def integrated_over_frailty():
    """A stand-in for the kernel that averages over the frailty of each founding."""
    from cohort.likelihood.founding import founding
    from cohort.likelihood.rates import GRADIENT, RATES
    from cohort.likelihood.study import fill_rates, paces, spread_rates

    points = np.linspace(-4.5, 4.5, 25)
    log_weight = -0.5 * points**2
    log_weight -= np.log(np.exp(log_weight).sum())

    @njit(error_model="numpy")
    def study_loglik(par, shared, records, rows, nodes):
        par_gradient = np.zeros_like(par)
        shared_gradient = np.zeros(shared.size)
        rates, term = np.empty(RATES), np.empty(GRADIENT)
        kept = np.empty((points.size, GRADIENT))
        values = np.empty(points.size)
        total = 0.0
        for i in range(records.shape[0]):
            for q in range(points.size):
                fill_rates(par, i, points[q], shared, paces(shared), rates)
                values[q] = log_weight[q] + founding(records, i, rows, nodes, rates, kept[q], term)
            top = values.max()
            shares = np.exp(values - top)
            total += top + math.log(shares.sum())
            shares /= shares.sum()
            for q in range(points.size):
                fill_rates(par, i, points[q], shared, paces(shared), rates)
                spread_rates(
                    kept[q], rates, shares[q], i, points[q], shared, par_gradient,
                    shared_gradient, False,
                )  # fmt: skip
        return total, par_gradient, shared_gradient

    return study_loglik


def test_sampled_frailties_and_integrated_ones_give_one_posterior(tmp_path, monkeypatch):
    truth = {
        name: dataclasses.replace(own, frailty=0.9)
        for name, own in some("Lasius", "Messor").items()
    }
    past = past_of(tmp_path / "s", truth, 5, foundings=40, look_every=10)
    sampled = fit(past, seed=3)
    monkeypatch.setattr(assembly, "study_loglik", integrated_over_frailty())
    for home, name in (
        (assembly, "study_by_genus"),
        (density, "likelihood"),
        (density, "log_density"),
    ):
        afresh = njit(error_model="numpy")(getattr(home, name).py_func)
        monkeypatch.setattr(density, name, afresh)
    # no machine code of the model itself, neither on disk nor at hand
    monkeypatch.setattr(callbacks, "cfunc", lambda signature, cache: cfunc(signature))
    callbacks.as_callback.cache_clear()
    marginal = fit(past, seed=4)
    callbacks.as_callback.cache_clear()
    both = [flat(found.posterior) for found in (sampled, marginal)]
    worst = 0.0
    for name, one in both[0].items():
        if np.ptp(one) < 1e-12:
            continue
        two = both[1][name]
        error = math.hypot(
            *(array_stats.mcse(x[None], chain_axis=1, draw_axis=2, method="mean")[0]
              for x in (one, two))
        )  # fmt: skip
        gap = abs(one.mean() - two.mean()) / error
        worst = max(worst, gap)
        assert gap < 4, (name, one.mean(), two.mean(), gap)
    print("numbers", len(both[0]), "worst gap in MCSE", worst)
    chances = [
        post_of(found, (1, 3)).values[colony(3, 160, "alike")][:, 0].mean()
        for found in (sampled, marginal)
    ]
    assert chances[0] == pytest.approx(chances[1], abs=0.01)


# --- the large study ----------------------------------------------------------------------------


def test_twelve_hundred_foundings(tmp_path):
    past = past_of(tmp_path / "s", GENERA, 2, foundings=1200)
    found = fit(past, seed=3)
    rows = errors_of(post_of(found, (1, 3)), GENERA, (1, 3))
    report(rows)
    for k in (1, 3):
        gap = np.array([row[3] for row in rows if row[1] == k])
        print("size", k, "mean error", gap.mean(), "rmse", math.sqrt((gap**2).mean()))
        assert abs(gap.mean()) <= 0.015
        assert math.sqrt((gap**2).mean()) <= 0.04
    print("divergences", int(found.stats["diverging"].sum()))


# --- studies made to mislead --------------------------------------------------------------------


def test_unmated_queens_do_not_fool_the_clock(tmp_path):
    # p = .6 and no true difference in time: many singles never get workers, groups do.
    truth = {
        name: dataclasses.replace(own, mated=0.6, multi_days=0.0)
        for name, own in some("Lasius", "Formica").items()
    }
    past = past_of(tmp_path / "s", truth, 8, foundings=160, horizon=180)
    ratios = {}
    for variant in ("", "no fertile fraction"):
        found = fit(past, seed=3, variant=variant)
        ratios[variant] = np.exp(found.posterior["multi_days"].to_numpy().ravel())
        print(repr(variant), "time ratio", np.quantile(ratios[variant], [0.05, 0.5, 0.95]))
        if not variant:
            mated = found.posterior["mated"].to_numpy().ravel()
            print("mated", np.quantile(mated, [0.05, 0.5, 0.95]))
            assert np.quantile(mated, 0.05) < 0.6 < np.quantile(mated, 0.95)
    low, high = np.quantile(ratios[""], [0.05, 0.95])
    assert low < 1 < high
    assert np.quantile(ratios["no fertile fraction"], 0.95) < 0.95


def test_killing_after_workers_is_told_from_dying_before(tmp_path):
    truth = {
        "Lasius": GenusTruth(together=0.0, rivalry=2.8, **SHARED),
        "Messor": GenusTruth(together=1.5, rivalry=0.0, **SHARED),
    }
    past = past_of(tmp_path / "s", truth, 4, foundings=160)
    found = fit(past, seed=3)
    rivalry, together = (found.posterior[name] for name in ("rivalry", "together"))
    chance = float((rivalry.sel(genus="Lasius") > rivalry.sel(genus="Messor")).mean())
    early = float((together.sel(genus="Messor") > together.sel(genus="Lasius")).mean())
    for values in (rivalry, together):
        print(values.name, values.mean(("chain", "draw")).to_numpy())
    print("chance rivalry higher where it is", chance, "company worse where it is", early)
    assert chance > 0.99
    assert early > 0.99


def test_early_culling_does_not_stick_to_the_last_queen(tmp_path):
    # Three queens, ratio 7.4 while together: the variant in which the effect stays foretells worse.
    truth = {
        name: dataclasses.replace(own, together=2.0, log_hazard=math.log(0.004))
        for name, own in some("Lasius", "Messor").items()
    }
    past = past_of(tmp_path / "s", truth, 6, foundings=160, look_every=5)
    elpd, draws, alive = {}, {}, {}
    for variant in ("", "lasting"):
        found = fit(past, seed=3, variant=variant)
        draws[variant] = leave_one_out(pointwise(found))
        elpd[variant] = draws[variant].elpd
        if not variant:
            post = post_of(found, (1, 3))
            alive = {k: post.values[colony(k, 160, "seen")][:, 0].mean() for k in (1, 3)}
    both = [draws[v].foundings.set_index("founding")["elpd"] for v in ("", "lasting")]
    gap = both[0] - both[1]
    se = gap.std(ddof=1) * math.sqrt(len(gap))
    print("elpd", elpd, "gap", gap.sum(), "se", se, "colonies", alive)
    assert gap.sum() > 2 * se


def test_a_last_fight_that_always_leaves_one_fails_its_check(tmp_path):
    truth = {
        name: dataclasses.replace(own, rivalry=2.5, last_fight=0.6, frailty=0.3)
        for name, own in some("Lasius", "Formica").items()
    }
    past = past_of(tmp_path / "s", truth, 9, foundings=160)
    tails = {}
    for variant in ("", "last fight takes one"):
        found = fit(past, seed=3, variant=variant)
        table = checks(found, past, seed=5).table
        row = table[(table["check"] == "all_lost") & (table["group"] == "multi")].iloc[0]
        print(repr(variant), row.to_dict())
        tails[variant] = row["tail_area"]
    assert tails[""] > 0.05
    assert tails["last fight takes one"] < 0.01


# --- how often one looks --------------------------------------------------------------------------


def test_how_often_one_looks_widens_the_answer_and_does_not_shift_it():
    """The very same lives, looked at every 3, 7 and 14 days."""
    rates = Rates(level1=0.006, ratio1=1.3, level2=0.004, ratio2=math.exp(1.2), theta=0.2)
    rates = dataclasses.replace(rates, log_day=math.log(48.0), tau=0.15, phi=0.85, sigma=0.5)
    genus = {f"F{i}": {"genus": "Lasius" if i % 2 else "Messor"} for i in range(120)}
    said = {}
    for every in (3, 7, 14):
        days = np.arange(every, 169, every)  # 168 is a multiple of each
        sets = lived(60, 1, rates, days, 31) + lived(60, 3, rates, days, 32)
        found = fit(history_of(sets, more=genus), seed=3)
        post = post_of(found, (1, 3))
        last = post.kinds.index("average")
        said[every] = {
            f"{name} of {k}": post.values[colony(k, 160, READING_OF[name])][:, last]
            for name in ("chance_lasting", "chance_per_founding")
            for k in (1, 3)
        } | {
            name: found.posterior[name].to_numpy().ravel()
            for name in ("within_days", "multi_days", "mated", "founding_hazard_mean",
                         "together_mean", "rivalry_mean", "last_fight_mean", "first_worker_mean")
        }  # fmt: skip
    for every in (7, 14):
        shifts, widths = {}, {}
        for name, fine in said[3].items():
            coarse = said[every][name]
            shifts[name] = (coarse.mean() - fine.mean()) / fine.std()
            widths[name] = coarse.std() / fine.std()
            print(every, name, f"shift {shifts[name]:+.2f} SD, width {widths[name]:.2f}")
        # fewer looks lose information: the two means then differ by as much as the variances do
        for name, shift in shifts.items():
            assert abs(shift) < 0.3 + 3 * math.sqrt(max(widths[name] ** 2 - 1, 0)), name
        assert (
            max(abs(shifts[name]) for name in shifts if "chance" in name) < {7: 0.3, 14: 0.6}[every]
        )
        assert np.mean(list(widths.values())) > 1.0
        assert widths["within_days"] > 1.0  # the day of the first worker is what looks blur


def test_what_was_sampled_is_what_is_said():
    assert sample.CHAINS == 4
    assert sample.ACCEPT == 0.9
    assert coordinates.MANY == 200
    assert sample.DRAWS == 1500
