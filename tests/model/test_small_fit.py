"""A fit of six foundings, small enough to be sampled without the compiler, and what asks for one.

Draws are few and tell nothing of the ants; what is held here is that every founding, draw and chain
lands in its own place.
"""

from dataclasses import replace

import numpy as np
import pytest
from by_rows import Rates
from scenes import by_frailty, history_of, tables_of
from scipy.special import logsumexp
from scipy.stats import norm

from cohort.likelihood import layout as at
from cohort.model import lived as lived_room
from cohort.model import loo, nuts
from cohort.model import pointwise as pointwise_room
from cohort.model import sample as sampling
from cohort.model.asked import fit
from cohort.model.kernel_arrays import by_founding, stacked
from cohort.model.pointwise import pointwise
from cohort.model.predictive import checks
from cohort.model.replicated import calendar

RATES = Rates(level1=0.006, level2=0.004, tau=0.15, phi=0.9, sigma=0.5)
SETS = [
    (1, ((14.0, 1, 0), (42.0, 1, 1), (70.0, 1, 1))),
    (3, ((14.0, 2, 0), (42.0, 2, 1), (70.0, 1, 1))),
    (1, ((14.0, 1, 0), (42.0, 0, 0))),
    (3, ((14.0, 3, 0), (42.0, 3, 0), (70.0, 2, 1))),
    (1, ((14.0, 1, 0), (42.0, 1, 0), (70.0, 1, 0))),
    (2, ((14.0, 2, 0), (42.0, 1, 1), (70.0, 0, 1))),
]
"""Losses before workers: 1 of the singles, 3 of the groups (two between the looks that bracket the
first worker, which count as before); with workers none and 2."""
GENUS = "AABBAB"


def few(density, packed, width, start, **asked):
    """As `nuts.sample_nuts`, with hardly any draws."""
    asked |= {"tune": 20, "chains": 2, "depth": 3}
    return nuts.sample_nuts(density, packed, width, start, **asked)


@pytest.fixture(scope="module")
def made():
    past = history_of(SETS, more={f"F{i}": {"genus": genus} for i, genus in enumerate(GENUS)})
    said = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sampling, "sample_nuts", few)
        fitted = fit(past, seed=1, draws=14, say=said.append)
    assert said == ["Fitting 6 foundings of 2 kinds"]
    return past, fitted


def test_draws_bear_names_and_lie_where_they_were_sampled(made):
    _, fitted = made
    assert fitted.posterior["frailty"].shape == (2, 14, 6)
    assert list(fitted.posterior["founding"].to_numpy()) == [f"F{i}" for i in range(6)]
    assert list(fitted.posterior["genus"].to_numpy()) == ["A", "B"]
    assert set(fitted.stats) >= {"diverging", "energy", "depth", "n_steps"}
    assert (fitted.posterior["mated"] > 0).all()
    assert (fitted.posterior["mated"] < 1).all()
    assert (fitted.posterior["frailty_sd"] >= 0).all()
    assert (fitted.seed, fitted.accept) == (1, sampling.ACCEPT)
    assert "6 of 2 kinds" in repr(fitted)
    assert "2 chains of 14" in repr(fitted)


def test_each_founding_is_weighed_in_its_own_draw(made):
    """The frailty integrated by a plain sum over 81 points in place of 15 moved ones."""
    _, fitted = made
    found = pointwise(fitted, draws=4)
    assert found.dims == ("chain", "draw", "founding")
    assert found["draw"].to_numpy().tolist() == [0, 13]  # first and last of each chain
    par, shared = by_founding(stacked(fitted.posterior.isel(draw=[0, 13])), fitted.design)
    z = np.linspace(-8.0, 8.0, 81)
    for chain, draw in ((0, 1), (1, 0)):
        d = 2 * chain + draw
        logs = by_frailty(par[d], shared[d], *tables_of(fitted.exposure), z)
        whole = logsumexp(logs + norm.logpdf(z)[:, None] + np.log(z[1] - z[0]), axis=0)
        assert found.to_numpy()[chain, draw] == pytest.approx(whole, abs=1e-4)
    other = found.to_numpy()[0, 0]
    assert np.abs(other - whole).min() > 1e-4  # another draw would show


def test_a_large_study_is_weighed_in_parts(made, monkeypatch):
    # Faults: a part left out; parts set chain beside chain (the draws of a chain out of order).
    _, fitted = made
    whole = pointwise(fitted)
    monkeypatch.setattr(lived_room, "AT_ONCE", 3 * 2 * 6 * 9)  # three draws of both chains
    assert len(list(lived_room.lived_in_parts(fitted, np.arange(14)))) == 5
    in_parts = pointwise(fitted)
    assert in_parts.identical(whole)
    assert not np.array_equal(in_parts[:, 3:6], in_parts[:, 6:9])
    monkeypatch.setattr(pointwise_room, "WEIGHED", 6 * 8)
    monkeypatch.setattr(pointwise_room, "LEAST", 4)
    fewer = pointwise(fitted)
    assert fewer.sizes["draw"] == 4  # eight draws of two chains
    assert fewer.identical(whole.sel(draw=fewer["draw"]))


@pytest.mark.parametrize(
    ("foundings", "draws"), [(199, 1500), (200, 1000), (4999, 1000), (5000, 900)]
)
def test_large_studies_take_fewer_draws(made, foundings, draws):
    _, fitted = made
    design = replace(fitted.design, foundings=tuple(f"F{i}" for i in range(foundings)))
    assert sampling.usual_draws(design) == draws


def test_what_was_seen_is_counted_beside_its_replicates(made):
    past, fitted = made
    found = checks(fitted, past, seed=2, draws=28)
    table = found.table.set_index(["check", "by", "group"])

    def seen(check, group):
        return table.loc[(check, "way", group), "observed"]

    assert (seen("losses_before_workers", "single"), seen("losses_before_workers", "multi")) == (
        1, 3,
    )  # fmt: skip
    assert (seen("losses_after_workers", "single"), seen("losses_after_workers", "multi")) == (0, 2)
    assert (seen("all_lost", "single"), seen("all_lost", "multi")) == (1, 1)
    assert table["tail_area"].dropna().between(0, 1).all()  # a plain rule has none
    assert (table["low"] <= table["high"]).all()
    plan, shown = calendar(past)
    assert plan.size.tolist() == [1, 3, 1, 3, 1, 2]
    assert shown.first[0].tolist() == [42.0, 42.0, np.inf, 70.0, np.inf, 42.0]
    again = checks(fitted, past, seed=2, draws=28).table
    assert again.equals(found.table)


def test_a_variant_is_compared_founding_by_founding(made, monkeypatch):
    past, fitted = made
    monkeypatch.setattr(sampling, "sample_nuts", few)
    asked = []
    monkeypatch.setattr(loo, "pointwise", lambda one: asked.append(one) or pointwise(one, draws=28))
    table = loo.compare_variants(past, 3, base=fitted, draws=14, variants=("", "no rivalry"))
    assert table["variant"].tolist() == ["as agreed", "no rivalry"]
    assert table.loc[0, ["difference", "se"]].tolist() == [0.0, 0.0]
    assert table.loc[1, "difference"] == pytest.approx(table["elpd"][1] - table["elpd"][0])
    assert asked[0] is fitted
    assert asked[1].design.variant == "no rivalry"
    rivalry = by_founding(stacked(asked[1].posterior), asked[1].design)[0][..., at.RIVALRY]
    assert (rivalry == 0.0).all()
