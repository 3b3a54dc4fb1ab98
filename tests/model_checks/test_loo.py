"""Leave-one-out against the closed form of a normal mean; variants fitted (slow)."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from scipy import stats

from cohort.model.loo import compare_variants, leave_one_out


def normal_mean(y: np.ndarray, draws: int = 2000) -> xr.DataArray:
    """Log-likelihood by draw and founding of y ~ N(mu, 1) with a flat prior of mu."""
    rng = np.random.default_rng(8)
    mu = rng.normal(y.mean(), 1 / math.sqrt(len(y)), (4, draws))
    return xr.DataArray(
        stats.norm.logpdf(y, mu[..., None], 1.0),
        dims=("chain", "draw", "founding"),
        coords={"chain": range(4), "draw": range(draws), "founding": list("abcdefghijkl")},
    )


Y = np.array([0.3, -1.1, 0.8, 1.9, -0.4, 0.1, 0.7, -0.6, 1.2, 0.0, -0.9, 0.5])


def test_a_normal_mean_has_its_closed_form() -> None:
    n = len(Y)
    rest = (Y.sum() - Y) / (n - 1)
    exact = stats.norm.logpdf(Y, rest, math.sqrt(1 + 1 / (n - 1)))
    found = leave_one_out(normal_mean(Y))
    assert found.foundings["elpd"].to_numpy() == pytest.approx(exact, abs=0.01)
    assert found.elpd == pytest.approx(exact.sum(), abs=0.03)
    assert found.se == pytest.approx(math.sqrt(n) * exact.std(ddof=1), rel=0.01)
    assert found.foundings["reliable"].all()
    plugged_in = stats.norm.logpdf(Y, Y.mean(), 1.0).sum()
    assert abs(plugged_in - exact.sum()) > 0.5  # not leaving out would show
    seen = stats.norm.logpdf(Y, Y.mean(), math.sqrt(1 + 1 / n)).sum()
    assert found.parameters == pytest.approx(seen - exact.sum(), abs=0.03)


def test_a_founding_that_moves_everything_is_told_as_unreliable() -> None:
    odd = Y.copy()
    odd[3] = 25.0
    found = leave_one_out(normal_mean(odd, draws=500))
    told = found.foundings.set_index("founding")
    assert not told.loc["d", "reliable"]
    assert told["reliable"].sum() == 11
    assert found.worst == told.loc["d", "pareto_k"] > found.limit


@pytest.mark.slow
def test_the_variant_without_rivalry_foretells_worse_where_queens_kill(tmp_path: Path) -> None:
    from cohort.history import history
    from cohort.simulate.season import simple_study
    from cohort.simulate.truth import GenusTruth
    from cohort.study import read_study

    fierce = GenusTruth(rivalry=3.5, log_hazard_workers=math.log(0.0015), frailty=0.4)
    made = simple_study(80, {"Lasius": fierce, "Messor": fierce}, seed=4)
    past = history(read_study(made.write(tmp_path / "study")))
    table = compare_variants(past, 2, variants=("no rivalry", "no fertile fraction"), draws=500)
    table = table.set_index("variant")
    assert table.index.tolist() == ["as agreed", "no rivalry", "no fertile fraction"]
    assert table.loc["no rivalry", "difference"] < -4
    assert table.loc["no rivalry", "difference"] < -2 * table.loc["no rivalry", "se"]
    assert table.loc["as agreed", "difference"] == 0.0
    assert np.isfinite(table["worst_k"]).all()
