"""Our curves against R's package survival on data made up on the spot.

Skipped where Rscript or the package is missing.
"""

import io
import shutil
import subprocess

import numpy as np
import pandas as pd
import pytest

from cohort.nonparametric import (
    cumulative_incidence,
    logrank,
    product_limit,
    restricted_mean,
    turnbull,
)

pytestmark = pytest.mark.needs_program


def has_survival():
    if shutil.which("Rscript") is None:
        return False
    call = ["Rscript", "-e", "library(survival)"]
    return subprocess.run(call, capture_output=True, check=False).returncode == 0


@pytest.fixture(scope="module")
def r():
    if not has_survival():
        pytest.skip("needs Rscript with the package survival, which is not installed here")

    def run(frame, code):
        script = f'suppressMessages(library(survival)); d <- read.csv(file("stdin")); {code}'
        result = subprocess.run(
            ["Rscript", "-e", script],
            input=frame.to_csv(index=False),
            capture_output=True,
            text=True,
            check=True,
        )
        return pd.read_csv(io.StringIO(result.stdout))

    return run


@pytest.fixture(scope="module")
def lives():
    """Ninety rows with late entry, ties, weights and two causes."""
    rng = np.random.default_rng(20250601)
    n = 90
    entry = rng.integers(0, 20, n)
    return pd.DataFrame(
        {
            "entry": entry,
            "exit": entry + rng.integers(1, 60, n),
            "cause": rng.integers(0, 3, n),
            "weight": rng.integers(1, 5, n),
            "group": rng.integers(0, 3, n),
        }
    )


def test_product_limit_with_late_entry_and_weights(r, lives):
    told = r(
        lives,
        "f <- survfit(Surv(entry, exit, cause > 0) ~ 1, d, weights = weight);"
        "k <- f$n.event > 0; write.csv(data.frame(t = f$time, s = f$surv, n = f$n.risk)[k, ],"
        " row.names = FALSE)",
    )
    curve = product_limit(lives["entry"], lives["exit"], lives["cause"] > 0, lives["weight"])
    np.testing.assert_allclose(curve.day, told["t"])
    np.testing.assert_allclose(curve.estimate, told["s"], rtol=1e-9, atol=1e-12)
    np.testing.assert_allclose(curve.at_risk, told["n"])


def test_greenwood_error_of_a_product_limit_curve(r, lives):
    told = r(
        lives,
        "f <- survfit(Surv(exit, cause > 0) ~ 1, d); k <- f$n.event > 0;"
        "write.csv(data.frame(se = f$std.err * f$surv)[k, , drop = FALSE], row.names = FALSE)",
    )
    curve = product_limit(None, lives["exit"], lives["cause"] > 0)
    np.testing.assert_allclose(curve.se, told["se"], rtol=1e-8)


def test_incidence_of_two_causes_with_ties_and_late_entry(r, lives):
    told = r(
        lives,
        "d$id <- seq_len(nrow(d));"
        "f <- survfit(Surv(entry, exit, factor(cause)) ~ 1, d, id = id);"
        "write.csv(data.frame(t = f$time, f$pstate), row.names = FALSE)",
    )
    curve = cumulative_incidence(lives["entry"], lives["exit"], lives["cause"])
    ours = curve.at(told["t"])
    np.testing.assert_allclose(ours.T, told.iloc[:, -2:].to_numpy(), rtol=1e-9, atol=1e-12)


def test_half_open_brackets(r):
    rng = np.random.default_rng(7)
    # Times between looks, so that R's own reading of touching brackets plays no part.
    after = np.round(rng.uniform(0, 60, 50), 3)
    by = np.where(rng.random(50) < 0.3, np.inf, np.round(after + rng.uniform(1, 25, 50), 3))
    frame = pd.DataFrame({"after": after, "by": np.where(np.isinf(by), np.nan, by)})
    told = r(
        frame,
        "f <- survfit(Surv(after, by, type = 'interval2') ~ 1, d);"
        "write.csv(data.frame(t = f$time, s = f$surv), row.names = FALSE)",
    )
    curve = turnbull(after, by)
    # R stops its own rounds early, so its curve is the less exact of the two.
    step = np.flatnonzero(curve.mass > 1e-3)[:-1]
    ours = curve.at(curve.by[step])
    theirs = [told["s"][told["t"] <= t].iloc[-1] for t in curve.by[step]]
    np.testing.assert_allclose(ours, theirs, atol=2e-3)


def test_log_rank_of_three_groups(r, lives):
    told = r(
        lives,
        "f <- survdiff(Surv(exit, cause > 0) ~ group, d);"
        "write.csv(data.frame(x = f$chisq), row.names = FALSE)",
    )
    test = logrank(lives["exit"], lives["cause"] > 0, lives["group"])
    assert test.statistic == pytest.approx(told["x"][0], rel=1e-8)
    assert test.df == 2


def test_restricted_mean_and_its_error(r, lives):
    told = r(
        lives,
        "f <- survfit(Surv(exit, cause > 0) ~ 1, d);"
        "m <- summary(f, rmean = 40)$table; names(m)[names(m) == 'se(rmean)'] <- 'se';"
        "write.csv(t(m), row.names = FALSE)",
    )
    mean, se = restricted_mean(None, lives["exit"], lives["cause"] > 0, 40)
    assert mean == pytest.approx(told.iloc[0]["rmean"], rel=1e-6)
    assert se == pytest.approx(told.iloc[0]["se"], rel=1e-6)
