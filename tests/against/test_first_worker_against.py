"""Brackets of the first worker, nobody dying and everyone mated: against interval regression.

Then the founding model says no more than that the log day is normal and lies in its bracket, which
lifelines and R's survreg fit too.
"""

import numpy as np
import pandas as pd
import pytest
from lifelines import LogNormalFitter
from scipy.optimize import minimize
from small_study import date, small_study

from cohort.history import history
from cohort.likelihood import layout as at
from cohort.likelihood.exposure import packed
from cohort.likelihood.study import study_loglik
from cohort.simulate.events import run
from cohort.simulate.truth import GenusTruth

LAST = 75


def brackets(number, entries, seed):
    """Lines of singles with looks at uneven gaps until the first worker or day 75."""
    truth = GenusTruth(
        log_hazard=-40.0, log_hazard_workers=-40.0, frailty=0.0, mated=1.0,
        log_median_day=np.log(48.0), within_days=0.25,
    )  # fmt: skip
    rng = np.random.default_rng(seed)
    lines, more = {}, {}
    while len(lines) < number:
        day = run(1, 1, truth, rng, 400.0).first_worker[0]
        entry = int(rng.choice(entries))
        if day <= entry:
            continue  # had workers when it would have come in; such foundings are not sent
        looks = [f"{entry} 1/0"] if entry else []
        at_day = entry
        while at_day < min(day, LAST):
            at_day = min(LAST, at_day + int(rng.integers(3, 15)))
            looks.append(f"{at_day} 1/{int(day <= at_day)}")
        name = f"F{len(lines):03d}"
        lines[name] = "1 | " + ", ".join(looks)
        if entry:
            more[name] = {"followed_from": date(entry)}
    return history(small_study(lines, more=more))


def maximum(past):
    exposure = packed(past)
    tables = exposure.records, exposure.rows, exposure.nodes

    def fitted(v):
        par = np.zeros((len(exposure.foundings), at.FOUNDING_WIDTH))
        par[:, at.HAZARD1] = par[:, at.HAZARD2] = -40.0
        par[:, at.LOG_DAY], par[:, at.FERTILE] = v[0], 1.0
        shared = np.zeros(at.SHARED_WIDTH)
        shared[at.WITHIN_DAYS], shared[at.LOADING] = np.exp(v[1]), 1.0
        value, gradient, in_shared = study_loglik(par, shared, *tables)
        return -value, -np.array(
            [gradient[:, at.LOG_DAY].sum(), in_shared[at.WITHIN_DAYS] * np.exp(v[1])]
        )

    found = minimize(fitted, [3.5, -1.0], jac=True, method="BFGS", options={"gtol": 1e-9})
    return -found.fun, found.x[0], np.exp(found.x[1])


@pytest.fixture(scope="module")
def past():
    made = brackets(80, [0], 4)
    own = made.foundings
    assert 0.05 < np.isinf(own["first_by"]).mean() < 0.4  # some had none by the last look
    assert (own["first_after"] > 0).all()  # the library below has no log of day 0
    return made


def test_interval_fit_of_lifelines(past):
    own = past.foundings
    fit = LogNormalFitter().fit_interval_censoring(
        own["first_after"], own["first_by"], fit_options={"tol": 1e-12}
    )
    value, mean, spread = maximum(past)
    assert value == pytest.approx(fit.log_likelihood_, rel=1e-7)
    assert mean == pytest.approx(fit.mu_, abs=2e-5)
    assert spread == pytest.approx(fit.sigma_, abs=2e-5)


def test_the_middle_of_each_bracket_taken_for_the_day_is_another_fit(past):
    own = past.foundings[np.isfinite(past.foundings["first_by"])]
    day = np.log((own["first_after"] + own["first_by"]) / 2)
    _, mean, spread = maximum(past)
    assert abs(day.mean() - mean) > 0.02
    assert abs(day.std(ddof=0) - spread) > 0.02


@pytest.mark.needs_program("Rscript")
def test_interval_regression_of_survreg(past, survival):
    own = past.foundings
    frame = pd.DataFrame(
        {"after": own["first_after"], "by": own["first_by"].replace(np.inf, np.nan)}
    )
    told = survival(
        frame,
        "f <- survreg(Surv(after, by, type = 'interval2') ~ 1, d, dist = 'lognormal',"
        " control = survreg.control(rel.tolerance = 1e-13));"
        "write.csv(data.frame(m = coef(f), s = f$scale, l = f$loglik[1]), row.names = FALSE)",
    )
    value, mean, spread = maximum(past)
    # survreg's log-likelihood of an interval is that of the day itself, as ours.
    assert value == pytest.approx(told["l"][0], rel=1e-8)
    assert mean == pytest.approx(told["m"][0], abs=1e-6)
    assert spread == pytest.approx(told["s"][0], abs=1e-6)


def test_late_entry_against_the_truncated_fit_of_lifelines():
    past = brackets(80, [0, 25, 35, 45], 5)
    own = past.foundings
    assert (own["entry"] > 0).sum() > 40
    fit = LogNormalFitter().fit_interval_censoring(
        own["first_after"].clip(lower=1e-6),
        own["first_by"],
        entry=own["entry"],
        fit_options={"tol": 1e-12},
    )
    value, mean, spread = maximum(past)
    assert value == pytest.approx(fit.log_likelihood_, rel=1e-6)
    assert mean == pytest.approx(fit.mu_, abs=1e-4)
    assert spread == pytest.approx(fit.sigma_, abs=1e-4)
    # Late entry forgotten: the slow seem commoner than they are.
    wrong = LogNormalFitter().fit_interval_censoring(
        own["first_after"].clip(lower=1e-6), own["first_by"]
    )
    assert wrong.mu_ > mean + 0.005
