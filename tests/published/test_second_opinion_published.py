"""The methods of the second opinion against numbers printed by others, through our own functions.

Patients stand in for foundings: one arm as `single`, the other as `multi`, strata as genera.
Marks as in README.md: R read in the source, M from memory and recomputed.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from lifelines import LogNormalAFTFitter
from statsmodels.stats.proportion import confint_proportions_2indep

from cohort.history import History
from cohort.nonparametric import logrank, strata_logrank
from cohort.second_opinion import Row, risk_ratio, time_ratio
from cohort.second_opinion.colonies import exact_p, share_gap
from cohort.second_opinion.workers import incidence_row, jittered_row

DATA = Path(__file__).parent / "data"


def table(name):
    return pd.read_csv(DATA / f"curves_{name}.csv", comment="#")


@pytest.fixture(scope="module")
def remission():
    """Leukaemia remission as the frame of an event: control in the place of groups."""
    own = table("leukaemia")
    return pd.DataFrame(
        {
            "founding": [f"L{i}" for i in range(len(own))],
            "genus": own["pair"].astype(str),
            "arm": np.where(own["treat"] == "control", "multi", "single"),
            "keeper": "",
            "entry": 0.0,
            "day": own["time"].astype(float),
            "seen": own["relapse"] == 1,
        }
    )


def test_log_rank_in_one_stratum_is_16_79(remission):
    # 16.79 (M: Cox and Oakes 1984), and what our plain one gives
    one = np.zeros(len(remission))
    group = remission["arm"] == "multi"
    test = strata_logrank(None, remission["day"], remission["seen"], group, one)
    assert test.statistic == pytest.approx(16.79294099, rel=1e-8)
    plain = logrank(remission["day"], remission["seen"], group)
    assert test.p == pytest.approx(plain.p, rel=1e-8)
    assert test.observed == 21


def test_log_rank_within_pairs_is_the_18_to_3_of_the_trial(remission):
    # Freireich et al. (1963), Blood 21:699: of 21 pairs 18 preferred 6-MP and 3 placebo (M). Within
    # a pair the log-rank test counts preferences: (18 - 3)^2 / 21; survdiff of R says the same.
    test = strata_logrank(
        None, remission["day"], remission["seen"], remission["arm"] == "multi", remission["genus"]
    )
    assert test.statistic == pytest.approx(15**2 / 21, rel=1e-12)
    assert test.statistic == pytest.approx(10.7142857143, rel=1e-9)
    assert (test.observed - test.expected, test.variance) == pytest.approx((7.5, 5.25))


def test_cox_by_efrons_way_is_1_572(remission):
    # 1.572 (M: Kalbfleisch and Prentice)
    found = risk_ratio(remission.assign(genus="one"))
    assert found.log_ratio == pytest.approx(1.572125149, rel=1e-6)
    assert found.keepers == 0


def test_cox_within_pairs_is_the_log_of_18_to_3(remission):
    assert risk_ratio(remission).log_ratio == pytest.approx(np.log(18 / 3), rel=1e-5)


def cosmesis():
    own = table("cosmesis")
    upper = own["by"].fillna(np.inf).astype(float)
    return pd.DataFrame(
        {
            "genus": "one",
            "arm": np.where(own["treatment"] == "radiotherapy", "single", "multi"),
            "lower": own["after"].astype(float),
            "upper": upper,
            "entry": 0.0,
            "seen": np.isfinite(upper),
        }
    )


def test_log_normal_days_by_brackets_reach_the_log_likelihood_of_cosmesis():
    # Finkelstein and Wolfe (1985): log-normal -146.622332 (recomputed; reference value given)
    found = time_ratio(cosmesis())
    assert found.loglik == pytest.approx(-146.622332, rel=1e-6)
    assert found.foundings == 94
    assert found.log_ratio < 0  # retraction comes sooner with chemotherapy besides


def test_a_lower_end_of_0_as_it_stands_is_no_fit():
    frame = cosmesis()
    assert (frame["lower"] == 0).any()
    bare = frame[["lower", "upper"]].assign(multi=(frame["arm"] == "multi").astype(float))
    try:
        fit = LogNormalAFTFitter().fit_interval_censoring(bare, "lower", "upper")
        settled = np.isfinite(fit.log_likelihood_)
    except Exception:
        settled = False
    assert not settled


def marrow(disease):
    """Transplants as foundings: relapse for the first worker, death of it for the loss of all."""
    own = table("marrow").query("disease == @disease").reset_index(drop=True)
    months, cause = own["months"] + 1.0, own["cause"]  # two had theirs in month 0, at entry
    never = np.full(len(own), np.inf)
    found = pd.DataFrame(
        {
            "genus": "one",
            "arm": "multi",
            "size": 3,
            "compared": True,
            "entry": 0.0,
            "entry_workers": False,
            "first_after": months,
            "first_by": months.where(cause == 2, never),
            "lost_after": months,
            "lost_by": months.where(cause == 1, never),
            "looked_to": months,
            "workers_cens": never,
            "end": months,
        }
    )
    return History(found, pd.DataFrame(), pd.DataFrame(), 180)


@pytest.mark.parametrize(("disease", "relapse"), [("ALL", 12 / 17), ("AML", 0.205707465)])
def test_final_incidence_of_relapse_after_transplant(disease, relapse):
    # .70588235 (R: Scrucca et al. 2007); AML recomputed
    row = Row("incidence", "", "", "chance", "multi", queens=3, day=1000)
    ours = incidence_row(row, marrow(disease), 1, 0.9)
    assert ours.estimate == pytest.approx(relapse, rel=1e-7)
    assert ours.low < relapse < ours.high
    theirs = jittered_row(row, marrow(disease), 1, 0.9)
    assert theirs.estimate == pytest.approx(relapse, abs=0.02)  # ties parted by chance


def test_the_lady_who_tasted_tea():
    # Fisher (1935); Agresti (M)
    assert exact_p([(3, 4, 1, 4)]) == pytest.approx(0.485714286, rel=1e-8)


RABBITS = [(0, 6, 0, 5), (3, 6, 0, 6), (6, 6, 2, 6), (5, 6, 6, 6), (2, 2, 5, 5)]


def test_rabbits_and_penicillin_over_five_doses():
    # Agresti (1990), Categorical Data Analysis, p. 231: rabbits cured with penicillin at once and
    # after 1.5 hours, as in R's help of mantelhaen.test: exact p .040 (R); R gives .0399449035813.
    assert exact_p(RABBITS) == pytest.approx(0.0399449035813, rel=1e-10)
    # doses thrown together, as if they did not matter: another number
    pooled = tuple(int(v) for v in np.sum(RABBITS, axis=0))
    assert abs(exact_p([pooled]) - 0.0399449) > 0.1


def test_newcombes_interval_of_a_difference():
    # Newcombe (1998), example a, method 10: 56/70 less 48/80, .0524 to .3339 (M)
    told = share_gap([(56, 70, 48, 80)], 0.95)
    assert told == pytest.approx((0.2, 0.0524, 0.3339), abs=5e-5)
    exact = confint_proportions_2indep(56, 70, 48, 80, method="newcomb", compare="diff")
    assert told[1:] == pytest.approx(exact, rel=1e-9)
