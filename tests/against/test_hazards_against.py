"""Losses of lone queens between looks: our likelihood against grouped proportional hazards.

With one queen, no worker and no frailty the founding model says of each interval that she dies in
it with chance 1 - exp(-hazard x days). That is a binomial model with a complementary log-log link
and the log of the days as offset (Prentice and Gloeckler 1978, Biometrics 34:57), which
statsmodels and R fit to the same person-interval table.
"""

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import minimize
from small_study import small_study

from cohort.history import history
from cohort.likelihood import layout as at
from cohort.likelihood.exposure import packed
from cohort.likelihood.study import study_loglik
from cohort.simulate.events import run
from cohort.simulate.truth import GenusTruth

STEPS = (0.6, 0.3, 0.0, -0.4, -0.2)
FINE = [4, 7, 11, 14, 18, 21, 28, 35, 42, 49, 56, 63, 70, 84, 98, 112]
COARSE = [7, 21, 42, 56, 70, 91, 112]


def losses(genus, number, log_hazard, days, seed):
    """Lines of singles looked at on given days, some of them only until an earlier look."""
    truth = GenusTruth(log_hazard=log_hazard, founding_steps=STEPS, mated=0.0, frailty=0.0)
    rng = np.random.default_rng(seed)
    deaths = run(number, 1, truth, rng, 112.0).deaths[:, 0]
    lines = {}
    for i, death in enumerate(deaths):
        last = rng.choice(days[len(days) // 2 :]) if rng.random() < 0.3 else days[-1]
        looks = []
        for day in (d for d in days if d <= last):
            looks.append(f"{day} {int(death > day)}/0")
            if death <= day:
                break
        lines[f"{genus}{i:03d}"] = "1 | " + ", ".join(looks)
    return lines


@pytest.fixture(scope="module")
def past():
    lines = losses("L", 60, np.log(0.012), FINE, 1) | losses("M", 50, np.log(0.02), COARSE, 2)
    more = {name: {"genus": "Messor" if name[0] == "M" else "Lasius"} for name in lines}
    return history(small_study(lines, more=more))


@pytest.fixture(scope="module")
def table(past):
    """The person-interval table: one row per founding and stretch between looks."""
    own = past.intervals.merge(past.foundings[["genus"]], left_on="code", right_index=True)
    piece = np.searchsorted(at.CUTS1, own["after"], side="right") - 1
    # Every look on a cut is a look of both calendars, so no interval crosses one.
    assert (own["by"] <= np.append(at.CUTS1[1:], np.inf)[piece]).all()
    return pd.DataFrame(
        {
            "lost": own["lost"],
            "days": own["by"] - own["after"],
            "after": own["after"],
            "by": own["by"],
            "piece": piece,
            "messor": (own["genus"] == "Messor").astype(int),
        }
    ).reset_index(drop=True)


def design(table):
    """Level of days 21-42, the second genus, and the steps of the other pieces."""
    other = [j for j in range(at.N1) if j != at.LEVEL1]
    columns = [(table["piece"] == j).to_numpy(float) for j in other]
    return np.column_stack([np.ones(len(table)), table["messor"], *columns])


@pytest.fixture(scope="module")
def ours(past):
    """Maximum of our likelihood by its own slopes: value and seven parameters."""
    exposure = packed(past)
    tables = exposure.records, exposure.rows, exposure.nodes
    second = (exposure.foundings["genus"] == "Messor").to_numpy(float)
    other = [j for j in range(at.N1) if j != at.LEVEL1]

    def fitted(v):
        par = np.zeros((len(second), at.FOUNDING_WIDTH))
        par[:, at.HAZARD1] = v[0] + v[1] * second
        shared = np.zeros(at.SHARED_WIDTH)
        shared[[at.STEPS1 + j for j in other]] = v[2:]
        shared[at.WITHIN_DAYS] = shared[at.LOADING] = 1.0
        value, gradient, in_shared = study_loglik(par, shared, *tables)
        level = gradient[:, at.HAZARD1]
        steps = in_shared[at.STEPS1 : at.STEPS1 + at.N1][other]
        return -value, -np.concatenate([[level.sum(), level @ second], steps])

    start = np.array([-4.0, 0, 0, 0, 0, 0])
    found = minimize(fitted, start, jac=True, method="BFGS", options={"gtol": 1e-8})
    return -found.fun, found.x


def test_complementary_log_log_of_statsmodels(ours, table):
    import statsmodels.api as sm

    family = sm.families.Binomial(link=sm.families.links.CLogLog())
    fit = sm.GLM(table["lost"], design(table), family=family, offset=np.log(table["days"])).fit(
        tol=1e-13
    )
    assert ours[0] == pytest.approx(fit.llf, rel=1e-9)
    np.testing.assert_allclose(ours[1], fit.params, atol=2e-6)


def test_a_log_link_of_losses_dated_at_the_look_is_another_model(ours, table):
    import statsmodels.api as sm

    wrong = sm.GLM(
        table["lost"], design(table), family=sm.families.Poisson(), offset=np.log(table["days"])
    ).fit()
    assert np.abs(ours[1] - wrong.params).max() > 0.03


@pytest.mark.needs_program("Rscript")
def test_complementary_log_log_of_r(ours, table, survival):
    told = survival(
        table,
        "d$piece <- relevel(factor(d$piece), '2');"
        "f <- glm(lost ~ messor + piece, binomial('cloglog'), d, offset = log(days),"
        " control = glm.control(1e-12, 100));"
        "write.csv(data.frame(b = coef(f), l = as.numeric(logLik(f))), row.names = FALSE)",
    )
    assert ours[0] == pytest.approx(told["l"][0], rel=1e-9)
    np.testing.assert_allclose(ours[1], told["b"], atol=2e-6)


@pytest.mark.needs_program("Rscript")
def test_exponential_brackets_of_survreg(past, survival):
    """One level for all: the bracket of each loss, or the last look, is all that matters."""
    own = past.foundings
    frame = pd.DataFrame(
        {
            "after": own["lost_after"].where(np.isfinite(own["lost_by"]), own["end"]),
            "by": own["lost_by"].replace(np.inf, np.nan),
        }
    )
    frame["after"] = frame["after"].where(frame["after"] > 0, np.nan)  # R: open to the left
    told = survival(
        frame,
        "f <- survreg(Surv(after, by, type = 'interval2') ~ 1, d, dist = 'exponential',"
        " control = survreg.control(rel.tolerance = 1e-12));"
        "write.csv(data.frame(b = coef(f), l = f$loglik[1]), row.names = FALSE)",
    )
    exposure = packed(past)
    par = np.zeros((len(own), at.FOUNDING_WIDTH))
    par[:, at.HAZARD1] = -told["b"][0]
    shared = np.zeros(at.SHARED_WIDTH)
    shared[at.WITHIN_DAYS] = shared[at.LOADING] = 1.0
    value, gradient, _ = study_loglik(par, shared, exposure.records, exposure.rows, exposure.nodes)
    assert value == pytest.approx(told["l"][0], rel=1e-9)
    assert gradient[:, at.HAZARD1].sum() == pytest.approx(0, abs=1e-4)  # theirs is our maximum


@pytest.mark.needs_program("Rscript")
def test_queen_days_by_piece_are_those_of_survsplit(past, survival):
    own = past.foundings
    told = survival(
        pd.DataFrame({"end": own["end"], "lost": np.isfinite(own["lost_by"]).astype(int)}),
        "s <- survSplit(Surv(end, lost) ~ 1, d, cut = c(7, 21, 42, 70), episode = 'piece');"
        "write.csv(aggregate(cbind(days = s$end - s$tstart) ~ piece, s, sum), row.names = FALSE)",
    )
    exposure = packed(past)
    records, rows = exposure.records, exposure.rows
    quiet = records[:, [*range(at.BASE_LONE, at.BASE_LONE + at.N1)]].sum(axis=0)
    quiet += records[:, [*range(at.NONE_LONE, at.NONE_LONE + at.N1)]].sum(axis=0)
    # The lone queen of an interval with a loss was looked at to its end.
    lost = rows[rows[:, at.PHASE] == 0, at.EXPOSURE : at.EXPOSURE + at.N1]
    none = np.concatenate(
        [np.arange(a, b) for a, b in records[:, [at.NONE_FROM, at.NONE_TO]].astype(int)]
        + [np.arange(a, b) for a, b in records[:, [at.BASE_FROM, at.BASE_TO]].astype(int)]
    )
    ours = quiet + rows[none][:, at.EXPOSURE : at.EXPOSURE + at.N1].sum(axis=0)
    np.testing.assert_allclose(ours, told["days"], rtol=1e-12)
    assert len(lost) >= len(none)
