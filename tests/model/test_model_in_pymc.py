"""The founding model in PyMC: its node, its parts, what a change may do and what it may not.

Nothing here is compiled by numba; what is, and is sampled, lies in tests/slow/test_both_doors.py.
"""

import inspect

import numpy as np
import pymc as pm
import pytensor
import pytensor.tensor as pt
import pytest
from by_rows import Rates
from in_pymc import PLAIN, drawn, function_of
from scenes import history_of, lived

import cohort
from cohort.base.errors import StudyError
from cohort.comparison import compare
from cohort.likelihood import layout as at
from cohort.likelihood.assembly import in_one
from cohort.likelihood.by_founding import LIVED, SHARED_FROM, loglik_by_founding
from cohort.likelihood.study import marginal_loglik, study_loglik
from cohort.model.asked import fit
from cohort.model.looks_of_founding import TALLIES, apart, in_tallies, replicated
from cohort.model.op import average_loglik, founding_loglik
from cohort.model.own_model import about
from cohort.model.parts import PARTS
from cohort.model.priors import Priors
from cohort.model.replicated import Seen, calendar
from cohort.model.sample import prepare

DAYS = np.arange(7, 161, 7)


@pytest.fixture(scope="module")
def past():
    rates = Rates(level1=0.008, level2=0.006, tau=0.2, phi=0.9, sigma=0.5)
    sets = lived(6, 1, rates, DAYS, 1) + lived(6, 3, rates, DAYS, 2)
    more = {f"F{i}": {"genus": "AB"[i % 2], "entry": 0.0} for i in range(12)}
    return history_of(sets, more=more)


@pytest.fixture(scope="module")
def model(past):
    return cohort.founding_model(past)


def rows(n, seed=3):
    """What some foundings live by, each with paces, spreads and a frailty of its own."""
    rng = np.random.default_rng(seed)
    out = np.zeros((n, LIVED))
    out[:, at.HAZARD1] = rng.normal(np.log(0.005), 0.4, n)
    out[:, at.TOGETHER] = rng.normal(0, 0.5, n)
    out[:, at.HAZARD2] = rng.normal(np.log(0.004), 0.4, n)
    out[:, at.RIVALRY] = rng.normal(1, 0.5, n)
    out[:, at.LAST_FIGHT] = rng.uniform(0.05, 0.5, n)
    out[:, at.LOG_DAY] = rng.normal(np.log(50), 0.1, n)
    out[:, at.FERTILE] = rng.uniform(0.7, 0.95, n)
    out[:, at.FRAILTY] = rng.normal(size=n)
    shared = out[:, SHARED_FROM:]
    shared[:, : at.WITHIN_DAYS] = rng.normal(0, 0.3, (n, at.WITHIN_DAYS))
    shared[:, at.WITHIN_DAYS] = rng.uniform(0.1, 0.3, n)
    shared[:, at.SIGMA] = rng.uniform(0.2, 0.9, n)
    shared[:, at.LOADING] = rng.uniform(0.5, 1.5, n)
    return out


def packed_of(past):
    _, exposure = prepare(past)
    none = np.zeros((len(exposure.foundings), 3)), np.zeros((at.N1 + at.N2, 7))
    tables = exposure.records, exposure.rows, exposure.nodes
    return tables, in_one(*none, *tables)


def test_founding_by_founding_it_is_the_likelihood_of_the_study(past):
    tables, study = packed_of(past)
    given = rows(12)
    value, slopes = loglik_by_founding(given, study, 0)
    for f in range(12):  # a study in which all share what this one lives by: its own term
        par, shared = given[:, :SHARED_FROM], np.zeros(at.SHARED_WIDTH)
        shared[: at.READ] = given[f, SHARED_FROM:]
        whole, in_par, _ = study_loglik(par, shared, *tables)
        other = par.copy()
        other[f, at.HAZARD1] += 0.1
        apart_ = study_loglik(other, shared, *tables)[0] - whole
        moved = given.copy()
        moved[f, at.HAZARD1] += 0.1
        again = loglik_by_founding(moved, study, 0)[0]
        assert again[f] - value[f] == pytest.approx(apart_, abs=1e-10)
        assert np.delete(again - value, f).tolist() == [0.0] * 11
        np.testing.assert_allclose(slopes[f, :SHARED_FROM], in_par[f], rtol=1e-10, atol=1e-12)
    step = 1e-6
    for j in range(LIVED):
        if j in (at.THRESHOLD, SHARED_FROM + at.WINTER, SHARED_FROM + at.WINTER_COMPANY):
            continue  # nobody runs on degree-days here, or goes through winter
        up, down = given.copy(), given.copy()
        up[:, j] += step
        down[:, j] -= step
        by_steps = loglik_by_founding(up, study, 0)[0] - loglik_by_founding(down, study, 0)[0]
        np.testing.assert_allclose(slopes[:, j], by_steps / (2 * step), rtol=1e-5, atol=1e-6)
        assert np.abs(slopes[:, j]).max() > 1e-4, j


def test_averaged_over_the_frailty_it_is_what_is_left_out(past):
    tables, study = packed_of(past)
    given = rows(12)
    value, slopes = loglik_by_founding(given, study, 1)
    par, shared = apart(given)
    want = marginal_loglik(par[None], shared[None], *tables)[0]
    np.testing.assert_allclose(value, want, rtol=1e-12)
    assert not slopes.any()
    other = given.copy()
    other[:, at.FRAILTY] += 1.0
    np.testing.assert_array_equal(loglik_by_founding(other, study, 1)[0], value)
    given[:, SHARED_FROM + at.SIGMA] *= 2.0
    assert (np.abs(loglik_by_founding(given, study, 1)[0] - value) > 1e-6).any()


def test_the_node_gives_what_the_kernel_gives_and_carries_slopes_back(past):
    _, study = packed_of(past)
    given, weights = rows(12), np.linspace(0.5, 2.0, 12)
    lived_ = pt.dmatrix()
    value = founding_loglik(lived_, study)[0]
    both = [value, pt.grad((value * weights).sum(), lived_)]
    got = pytensor.function([lived_], both, mode=PLAIN)(given)
    want = loglik_by_founding(given, study, 0)
    np.testing.assert_allclose(got[0], want[0], rtol=1e-12)
    np.testing.assert_allclose(got[1], weights[:, None] * want[1], rtol=1e-12)
    with pytest.raises(StudyError, match="no gradient"):
        pt.grad(average_loglik(lived_, study)[0].sum(), lived_)


@pytest.mark.slow
def test_the_node_compiled_by_numba_is_the_kernel(past):
    _, study = packed_of(past)
    lived_ = pt.dmatrix()
    value = founding_loglik(lived_, study)[0]
    both = [value, pt.grad(value.sum(), lived_), average_loglik(lived_, study)[0]]
    given = rows(12)
    got = pytensor.function([lived_], both, mode="NUMBA")(given)
    want = (*loglik_by_founding(given, study, 0), loglik_by_founding(given, study, 1)[0])
    for ours, theirs in zip(got, want, strict=True):
        np.testing.assert_allclose(ours, theirs, rtol=1e-12)


def test_dims_and_names_are_those_of_a_posterior(past, model):
    assert list(model.coords["genus"]) == ["A", "B"]
    assert len(model.coords["founding"]) == 12
    assert model.named_vars_to_dims["looks"] == ("founding", "tally")
    assert model.named_vars_to_dims["together"] == ("genus",)
    assert [rv.name for rv in model.observed_RVs] == ["looks"]
    assert not model.potentials
    observed = model.rvs_to_values[model["looks"]].data
    np.testing.assert_array_equal(observed, model.about.seen)
    chosen = past.foundings
    with_workers = np.isfinite(chosen["first_by"].to_numpy(float))
    np.testing.assert_array_equal(observed[:, TALLIES.index("with_workers")], with_workers)
    day = observed[:, TALLIES.index("day_shown")]
    np.testing.assert_array_equal(day[with_workers], chosen["first_by"][with_workers])
    lost = past.intervals.groupby("code")["lost"].sum().reindex(chosen.index, fill_value=0)
    np.testing.assert_array_equal(observed[:, :2].sum(axis=1), lost)
    np.testing.assert_array_equal(observed[:, 2], chosen["size"] - lost)


def test_by_hand_one_founding_in_five_numbers(past):
    plan, seen = calendar(past)
    found = in_tallies(plan, seen)
    f = int(np.flatnonzero(np.isfinite(seen.first[0]))[0])
    looks = slice(plan.start[f], plan.stop[f])
    lost = seen.at_risk[0, looks] - seen.alive[0, looks]
    before = lost[plan.day[looks] <= seen.first[0, f]].sum()
    assert found[0, f].tolist() == [
        before, lost.sum() - before, seen.alive[0, looks][-1], 1.0, seen.first[0, f],
    ]  # fmt: skip


def test_replicates_live_by_what_their_founding_lives_by(past):
    plan, _ = calendar(past)
    given = np.broadcast_to(rows(12), (400, 12, LIVED)).copy()
    given[:, 0, at.HAZARD1] = given[:, 0, at.HAZARD2] = -30.0  # nobody dies here
    given[:, 1, at.FERTILE] = 0.0  # and no worker comes here
    given[:, 2, SHARED_FROM + at.STEPS1 : SHARED_FROM + at.STEPS2] = 9.0  # all die within days
    out = replicated(given, plan, np.random.default_rng(5))
    assert out.shape == (400, 12, len(TALLIES))
    assert not out[:, 0, :2].any()
    assert (out[:, 0, 2] == plan.size[0]).all()
    assert not out[:, 1, 3].any()
    assert (out[:, 2, 2] == 0).all()
    assert out[:, 3:, 0].std(axis=0).min() > 0  # the others differ from replicate to replicate


def test_draws_of_the_model_run_forward(model):
    values = drawn([model["looks"], model["frailty_sd"]], 3, 1)
    assert values[0].shape == (3, 12, len(TALLIES))
    assert len({part.tobytes() for part in values[0]}) == 3
    assert (values[1] > 0).all()


def shifted(name, by):
    def change(parts):
        parts[name] += by

    return change


def test_a_part_that_is_moved_moves_the_likelihood_and_nothing_else(past, model):
    plain = function_of(model, [model["looks"]])
    point = model.initial_point(random_seed=2)
    was = plain(point)[0]
    x = np.linspace(-1, 1, 12)
    for name in ("founding_hazard", "first_worker", "mated", "within_days", "pace_after"):
        by = x[:, None] * 0.1 if name == "pace_after" else 0.05 * (1 + x)
        own = cohort.founding_model(past, change=shifted(name, by))
        now = function_of(own, [own["looks"]], also=[own["moved_by_own"]])
        value, (moved,), _ = now(point)
        assert abs(value - was) > 1e-4, name
        assert own.about.moves == (name,)
        assert np.abs(moved).max() > 1e-3
        nothing = cohort.founding_model(past, change=shifted(name, 0.0 * by))
        assert function_of(nothing, [nothing["looks"]])(point)[0] == pytest.approx(was, abs=1e-10)


def test_ones_own_variables_are_known_as_such(past):
    def altitude(parts):
        x = parts.foundings["size"].to_numpy(float)
        slope = pm.Normal("altitude", 0, 0.2)
        parts["first_worker"] += slope * (x - x.mean())
        parts["founding_hazard"] += pm.Deterministic("half", slope / 2) * (x - x.mean())

    own = cohort.founding_model(past, change=altitude)
    assert own.about.own == ("altitude", "half")
    assert own.about.moves == ("first_worker", "founding_hazard")
    assert list(own.coords["moved"]) == [at.HAZARD1, at.LOG_DAY]


def test_a_wrong_part_is_told_with_the_right_ones(past):
    def wrong(name, value):
        def change(parts):
            parts[name] = value

        return change

    with pytest.raises(StudyError, match=r"no part 'first_wroker'.*mean 'first_worker'") as e:
        cohort.founding_model(past, change=wrong("first_wroker", 0.0))
    assert all(f"{name}: {meaning}" in str(e.value) for name, meaning in PARTS.items())
    with pytest.raises(StudyError, match="one number for each of the 12 compared foundings"):
        cohort.founding_model(past, change=wrong("rivalry", np.zeros(11)))
    with pytest.raises(StudyError, match="a row of 5 for each"):
        cohort.founding_model(past, change=wrong("pace_before", np.zeros((12, 4))))
    with pytest.raises(StudyError, match="a number that is none"):
        cohort.founding_model(past, change=shifted("rivalry", np.where(np.arange(12), 0.0, np.nan)))
    with pytest.raises(StudyError, match="hand nothing back"):
        cohort.founding_model(past, change=lambda parts: parts["rivalry"] + 1.0)
    with pytest.raises(StudyError, match="change moved nothing"):
        cohort.founding_model(past, change=lambda parts: None)
    with pytest.raises(StudyError, match="cannot be taken away"):
        cohort.founding_model(past, change=lambda parts: parts.pop("rivalry") and None)


def test_a_model_must_be_of_the_study_and_whole(past, model):
    _, exposure = prepare(past)
    assert about(model, exposure) is model.about
    with pytest.raises(StudyError, match="does not say what study it is of"), pm.Model() as other:
        about(other, exposure)
    averaged = cohort.founding_model(past, average_frailty=True)
    with pytest.raises(StudyError, match="averaged out"):
        about(averaged, exposure)
    kept = past.foundings.assign(compared=past.foundings["founding"] != "F3")
    less = type(past)(**(vars(past) | {"foundings": kept}))
    with pytest.raises(StudyError, match=r"12 foundings, the study compares 11.*F3"):
        about(model, prepare(less)[1])
    days = past.foundings.assign(first_by=past.foundings["first_by"] + 7.0)
    later = type(past)(**(vars(past) | {"foundings": days}))
    with pytest.raises(StudyError, match="other looks at them"):
        about(model, prepare(later)[1])
    replaced = cohort.founding_model(past)
    replaced.rvs_to_values[replaced["looks"]] = pt.constant(replaced.about.seen + 1.0)
    with pytest.raises(StudyError, match="were replaced"):
        about(replaced, exposure)
    lacking = cohort.founding_model(past)
    del lacking.named_vars["together"]
    with pytest.raises(StudyError, match="lacks the variables together"):
        about(lacking, exposure)


def test_what_belongs_into_the_model_is_not_given_beside_it(past, model):
    for name, given in (("priors", Priors()), ("adjust", ["housing"]), ("variant", "lasting")):
        with pytest.raises(StudyError, match=f"{name} belongs to the model"):
            fit(past, seed=1, model=model, **{name: given})
    with pytest.raises(StudyError, match="no variant 'longlasting'"):
        fit(past, seed=1, variant="longlasting")
    with pytest.raises(StudyError, match=r"priors are a cohort\.Priors"):
        fit(past, seed=1, priors={"together": {"sd": 2.0}})


def test_a_fit_and_a_comparison_take_one_list():
    ours, theirs = (set(inspect.signature(f).parameters) for f in (fit, compare))
    assert ours - {"history"} == theirs - {"study", "level"}


def test_with_its_starts_seen_a_replicate_has_the_looks_of_its_founding(past):
    plan, seen = calendar(past)
    none = Seen(seen.at_risk, seen.at_risk, np.full_like(seen.first, np.inf))
    quiet = in_tallies(plan, none)
    assert not quiet[..., :2].any()
    assert not quiet[..., 3].any()
    for f in range(12):  # where no worker was shown: the day of the last look
        assert quiet[0, f, 4] == plan.day[plan.stop[f] - 1]
