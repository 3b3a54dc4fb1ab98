"""Draws of one's own as a fit: whatever they come in, and what is wrong with them, plainly."""

import math

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from by_rows import Rates
from scenes import history_of, lived

import cohort
from cohort.base.errors import StudyError
from cohort.likelihood import layout as at
from cohort.likelihood.by_founding import SHARED_FROM
from cohort.model.asked import fit
from cohort.model.gate import judge
from cohort.model.kernel_arrays import by_founding, stacked
from cohort.model.lived import lived as lived_by
from cohort.model.own_draws import wanted
from cohort.model.pointwise import pointwise
from cohort.model.prior_draws import named_prior
from cohort.model.priors import Priors
from cohort.model.sample import prepare
from cohort.outcomes import outcomes, posterior_draws

DRAWS = 40


@pytest.fixture(scope="module")
def past():
    rates = Rates(level1=0.006, level2=0.004, tau=0.15, phi=0.9, sigma=0.5)
    days = np.arange(7, 121, 7)
    sets = lived(6, 1, rates, days, 1) + lived(6, 2, rates, days, 2)
    return history_of(sets, more={f"F{i}": {"genus": "AB"[i % 2]} for i in range(12)})


@pytest.fixture(scope="module")
def draws(past):
    """Two chains of draws; of the priors, as that is all the same here."""
    design, _ = prepare(past)
    chains = [named_prior(design, Priors(), seed=seed, draws=DRAWS) for seed in (1, 2)]
    one = xr.concat([c.drop_vars("chain") for c in chains], "chain").assign_coords(chain=[0, 1])
    mine = np.random.default_rng(3).normal(size=(2, DRAWS))
    return one.assign(altitude=(("chain", "draw"), mine))


def as_frame(draws):
    """A row per draw; what has dims as a column per place."""
    columns = {}
    for name, values in draws.data_vars.items():
        flat = values.transpose("chain", "draw", ...).to_numpy().reshape(2 * DRAWS, -1)
        dims = values.dims[2:]
        labels = [str(v) for v in draws[dims[0]].to_numpy()] if dims else [""]
        for i, label in enumerate(labels):
            columns[f"{name}[{label}]" if dims else name] = flat[:, i]
    place = {"chain": np.repeat([0, 1], DRAWS), "draw": np.tile(np.arange(DRAWS), 2)}
    return pd.DataFrame(place | columns)


def test_a_tree_a_dataset_and_a_frame_are_the_same_draws(past, draws):
    whole = cohort.Fit.from_draws(past, draws, seed=5)
    tree = xr.DataTree.from_dict({"posterior": draws})
    frame = as_frame(draws).sample(frac=1.0, random_state=1).sort_values("draw", kind="stable")
    for other in (tree, frame):
        found = cohort.Fit.from_draws(past, other, seed=5)
        for name in wanted(whole.design):
            ours, theirs = (f.posterior[name].to_numpy() for f in (whole, found))
            np.testing.assert_array_equal(ours, theirs, err_msg=name)
        assert found.own == ("altitude",)
    again = fit(past, seed=1, model=whole)
    assert (again.posterior is whole.posterior, again.seed) == (True, 1)
    assert "not known" in repr(whole)
    drawn = posterior_draws(whole.posterior, whole.design, whole.priors, seed=1, draws=20)
    assert outcomes(drawn, (1, 2), 120).values


def test_without_a_record_of_the_sampler_it_is_not_judged(past, draws):
    found = cohort.Fit.from_draws(past, draws)
    told = judge(found.posterior, found.stats, {})
    assert math.isnan(told.ebfmi)
    assert told.as_dict()["ebfmi"] is None
    assert not any("explored" in reason or "astray" in reason for reason in told.reasons)
    rng = np.random.default_rng(2)
    record = {
        "diverging": (("chain", "draw"), np.arange(2 * DRAWS).reshape(2, DRAWS) == 3),
        "energy": (("chain", "draw"), np.linspace(0, 9, DRAWS) + rng.normal(size=(2, DRAWS))),
    }
    tree = xr.DataTree.from_dict({"posterior": draws, "sample_stats": xr.Dataset(record)})
    with_record = cohort.Fit.from_draws(past, tree)
    said = judge(with_record.posterior, with_record.stats, {}).reasons
    assert any("1 steps of the sampler went astray" in reason for reason in said)
    assert any("explored badly" in reason for reason in said)


def test_what_is_wrong_with_draws_is_told(past, draws):
    def refused(given, match):
        with pytest.raises(StudyError, match=match):
            cohort.Fit.from_draws(past, given)

    refused(draws.drop_vars(["together", "mated"]), "lack together, mated")
    refused(draws.isel(genus=[0]), "1 along 'genus'; this study takes 2 along 'genus'")
    refused(draws.assign(mated=draws["together"]), "mated have 2 along 'genus'.*takes one number")
    refused(draws.assign_coords(genus=["A", "C"]), "of other foundings or kinds")
    refused(draws.assign(mated=draws["mated"].where(draws["draw"] > 0)), "a number that is none")
    refused(draws.isel(chain=0, drop=True), "no dimension 'chain'")
    refused({"together": 1.0}, "this is a dict")
    refused(xr.DataTree.from_dict({"prior": draws}), "a group 'posterior'")
    frame = as_frame(draws)
    refused(frame.drop(columns="walk[3]"), r"walk lack the column 'walk\[3\]'")
    refused(frame.iloc[:-1], "longer than others")
    kept = past.foundings.assign(compared=past.foundings["founding"] != "F3")
    less = type(past)(**(vars(past) | {"foundings": kept}))
    whole = cohort.Fit.from_draws(past, draws)
    with pytest.raises(StudyError, match="know 12 foundings, and this study compares 11"):
        fit(less, seed=1, model=whole)


def test_what_ones_own_effects_move_goes_into_checks_and_leave_one_out(past, draws):
    design, _ = prepare(past)
    plain = cohort.Fit.from_draws(past, draws)
    par, shared = by_founding(stacked(draws), design)
    columns = [at.LOG_DAY, SHARED_FROM + at.WITHIN_DAYS]
    rng = np.random.default_rng(4)
    move = rng.normal(0, 0.1, (2, DRAWS, 12, 2))
    move[..., 1] = np.abs(move[..., 1])
    moved = xr.DataArray(
        move, dims=("chain", "draw", "founding", "moved"), coords={"moved": columns}
    )
    own = cohort.Fit.from_draws(past, draws.assign(moved_by_own=moved))
    assert own.own == ("altitude",)
    got, by_one = lived_by(own, slice(None))
    flat = move.reshape(-1, 12, 2)
    np.testing.assert_allclose(got[..., at.LOG_DAY], par[..., at.LOG_DAY] + flat[..., 0])
    want = shared[:, None, at.WITHIN_DAYS] + flat[..., 1]
    np.testing.assert_allclose(by_one[..., at.WITHIN_DAYS], want)
    rest = np.delete(by_one, at.WITHIN_DAYS, axis=2)
    for f in range(12):
        np.testing.assert_array_equal(rest[:, f], np.delete(shared, at.WITHIN_DAYS, axis=1))
    keep = np.array([1, 7])
    some = got.reshape(2, DRAWS, *got.shape[1:])[:, keep].reshape(-1, *got.shape[1:])
    np.testing.assert_array_equal(lived_by(own, keep)[0], some)
    apart = pointwise(own, 20) - pointwise(plain, 20)
    assert float(np.abs(apart).max()) > 1e-2
    none = cohort.Fit.from_draws(past, draws.assign(moved_by_own=0.0 * moved))
    np.testing.assert_array_equal(pointwise(none, 20), pointwise(plain, 20))
