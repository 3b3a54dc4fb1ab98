"""Curves and tests against numbers printed by others.

Marks: R, the printed figure was read in the source; M, it is from memory and agrees with a
recomputation. The values tested are recomputed to more digits than were printed; the printed
figure stands beside them to show that they are the right ones.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from lifelines import WeibullAFTFitter, WeibullFitter
from scipy.stats import fisher_exact

from cohort.nonparametric import (
    cumulative_incidence,
    logrank,
    product_limit,
    restricted_mean,
    turnbull,
)
from cohort.nonparametric.counts import clopper_pearson

DATA = Path(__file__).parent / "data"
CLOSE = 1e-6  # relative: closed forms and convex likelihoods
PRINTED = 5e-9  # what eight or nine printed digits leave open


def table(name):
    return pd.read_csv(DATA / f"curves_{name}.csv", comment="#")


@pytest.fixture(scope="module")
def leukaemia():
    return table("leukaemia")


def test_remission_under_6mp_is_the_product_limit_curve_of_the_textbook(leukaemia):
    # Cox and Oakes (1984), printed .857 .807 .753 .690 .627 .538 .448 (M)
    own = leukaemia[leukaemia["treat"] == "6-MP"]
    curve = product_limit(None, own["time"], own["relapse"] == 1)
    np.testing.assert_array_equal(curve.day, [6, 7, 10, 13, 16, 22, 23])
    share = [
        0.857142857, 0.806722689, 0.752941176, 0.690196078, 0.627450980, 0.537815126, 0.448179272
    ]  # fmt: skip
    error = [
        0.076360355, 0.086935285, 0.096349653, 0.106814708, 0.114053865, 0.128233752, 0.134591457
    ]  # fmt: skip
    np.testing.assert_allclose(curve.estimate, share, rtol=CLOSE)
    np.testing.assert_allclose(curve.se, error, rtol=CLOSE)
    np.testing.assert_array_equal(curve.at_risk, [21, 17, 15, 12, 11, 7, 6])


def test_median_remission_is_23_weeks_and_8_weeks(leukaemia):
    # Cox and Oakes (1984) (M)
    for treat, median in (("6-MP", 23), ("control", 8)):
        own = leukaemia[leukaemia["treat"] == treat]
        curve = product_limit(None, own["time"], own["relapse"] == 1)
        assert curve.day[np.argmax(curve.estimate <= 0.5)] == median


@pytest.mark.parametrize(
    ("weighting", "value"),
    [
        ("logrank", 16.79294099),  # 16.79 (M)
        ("wilcoxon", 13.45785205),  # 13.457852 (R: Kleinbaum and Klein, Survival Analysis)
        ("tarone-ware", 15.12357531),  # 15.123575 (R, same)
        ("peto", 14.08413987),  # 14.084139 (R, same)
    ],
)
def test_rank_tests_of_the_remission_data(leukaemia, weighting, value):
    test = logrank(leukaemia["time"], leukaemia["relapse"], leukaemia["treat"], weighting=weighting)
    assert test.statistic == pytest.approx(value, rel=CLOSE)
    assert test.df == 1


def test_turnbulls_own_example_with_exact_earlier_and_later_times():
    # Turnbull (1974), JASA 69:169: .538 .295 .210 .095 (R)
    time = np.repeat([1.0, 2, 3, 4], 3)
    kind = np.tile(["exact", "later", "earlier"], 4)
    number = [12, 3, 2, 6, 2, 4, 2, 0, 2, 3, 3, 5]
    after = np.where(kind == "earlier", -np.inf, time)
    by = np.where(kind == "later", np.inf, time)
    curve = turnbull(after, by, number)
    expected = [0.537567812, 0.294593986, 0.209760177, 0.094845753]
    np.testing.assert_allclose(curve.at([1, 2, 3, 4]), expected, rtol=CLOSE)


def test_breast_cosmesis_masses_of_the_radiotherapy_arm():
    # Fay and Shaw (2010), J Stat Softw 36(2): .0463 .0334 .0887 .0708 .0926 .0818 .1209 .4656 (R)
    own = table("cosmesis").query("treatment == 'radiotherapy'")
    curve = turnbull(own["after"], own["by"].fillna(np.inf))
    some = curve.mass > 1e-6
    pieces = list(zip(curve.after[some], curve.by[some], strict=True))
    assert pieces == [(4, 5), (6, 7), (7, 8), (11, 12), (24, 25), (33, 34), (38, 40), (46, 48)]
    mass = [
        0.04634677, 0.03336337, 0.08866737, 0.07075292,
        0.09264584, 0.08178576, 0.12087983, 0.46555814,
    ]  # fmt: skip
    np.testing.assert_allclose(curve.mass[some], mass, atol=1e-8)
    assert curve.loglik == pytest.approx(-58.06002195, abs=5e-8)


def test_breast_cosmesis_log_likelihood_of_the_other_arm():
    # Recomputed only: no printed figure is known to us.
    own = table("cosmesis").query("treatment == 'with chemotherapy'")
    assert turnbull(own["after"], own["by"].fillna(np.inf)).loglik == pytest.approx(
        -65.63696491, abs=5e-8
    )


def test_breast_cosmesis_fits_a_weibull_by_half_open_brackets():
    # loglik -143.32, hazard ratio about 2.50 (M)
    own = table("cosmesis")
    frame = pd.DataFrame(
        {
            "after": own["after"].astype(float),
            "by": own["by"].fillna(np.inf),
            "with_chemotherapy": (own["treatment"] == "with chemotherapy").astype(float),
        }
    )
    fit = WeibullAFTFitter().fit_interval_censoring(frame, "after", "by")
    assert fit.log_likelihood_ == pytest.approx(-143.3208271, rel=1e-6)
    scale = np.exp(-fit.params_["rho_", "Intercept"])
    slope = fit.params_["lambda_", "with_chemotherapy"]
    assert fit.params_["lambda_", "Intercept"] == pytest.approx(3.89927623, rel=1e-4)
    assert slope == pytest.approx(-0.567550537, rel=1e-3)
    assert scale == pytest.approx(0.619339705, rel=1e-3)
    assert np.exp(-slope / scale) == pytest.approx(2.50, abs=0.005)


def test_cracks_in_parts_fit_a_weibull_by_half_open_inspection_intervals():
    # SAS example in the tests of R's survival package: 7.6880 (.0744), log scale -.3953 (R).
    # Days of inspection and parts found cracked of 167; 73 were sound at the last.
    days = np.array([0, 186, 606, 902, 1077, 1209, 1377, 1592, 1932, np.inf])
    found = np.array([5, 16, 12, 18, 18, 2, 6, 17, 73])
    fit = WeibullFitter().fit_interval_censoring(days[:-1], days[1:], weights=found)
    assert np.log(fit.lambda_) == pytest.approx(7.687999064, rel=1e-5)
    assert -np.log(fit.rho_) == pytest.approx(-0.395258224, rel=1e-4)
    assert fit.log_likelihood_ == pytest.approx(-309.6311809, rel=1e-6)
    # The model-free curve of the same intervals is plain counting.
    curve = turnbull(days[:-1], days[1:], found)
    np.testing.assert_allclose(curve.at(days[1:-1]), 1 - np.cumsum(found)[:-1] / 167, rtol=1e-8)


@pytest.mark.parametrize(
    ("disease", "final"),
    [
        ("ALL", (3 / 17, 12 / 17)),  # .17647059, .70588235 (R: Scrucca et al. 2007)
        ("AML", (0.368185764, 0.205707465)),  # recomputed
    ],
)
def test_final_incidence_after_marrow_transplant(disease, final):
    own = table("marrow").query("disease == @disease")
    told = cumulative_incidence(None, own["months"], own["cause"])
    np.testing.assert_allclose(told.estimate[:, -1], final, rtol=CLOSE)


@pytest.mark.parametrize(
    ("sex", "entry", "malignant", "dead"),
    [
        ("M", 104.1001483, 12.7763220, 123.1235297),  # 8.7, 1.1, 10.3 years (R: survival vignette)
        ("F", 118.2432957, 15.8794027, 105.8773016),
    ],
)
def test_months_of_240_spent_in_each_state(sex, entry, malignant, dead):
    own = table("gammopathy").query("sex == @sex")
    seen = own["pstat"] == 1
    time = own["ptime"].where(seen, own["futime"])
    told = cumulative_incidence(None, time, np.where(seen, 1, 2 * own["death"]))
    edges = np.concatenate([[0], told.day[(told.day > 0) & (told.day < 240)], [240]])
    areas = (told.at(edges[:-1]) * np.diff(edges)).sum(axis=1)
    np.testing.assert_allclose(areas, [malignant, dead], rtol=CLOSE)
    assert 240 - areas.sum() == pytest.approx(entry, rel=CLOSE)


@pytest.fixture(scope="module")
def retirement():
    own = table("retirement")
    own = own[own["ageentry"] < own["age"]]
    assert len(own) == 458  # four rows enter and leave at one age
    return own


def test_two_early_deaths_bring_the_curve_of_men_to_nothing(retirement):
    # Klein and Moeschberger (2003), example 4.3 (M): two men at risk, both died, the second at 781
    men = retirement.query("gender == 'men'")
    curve = product_limit(men["ageentry"], men["age"], men["death"] == 1)
    np.testing.assert_array_equal(curve.day[:2], [777, 781])
    np.testing.assert_array_equal(curve.at_risk[:2], [2, 1])
    np.testing.assert_array_equal(curve.estimate[:2], [0.5, 0.0])


@pytest.mark.parametrize(
    ("gender", "shares"),
    [
        ("men", [0.637761403, 0.454373346, 0.222707313, 0.050109146]),
        ("women", [0.740807990, 0.500420352, 0.293994767, 0.152360573]),
    ],
)
def test_survival_of_those_alive_at_68_with_late_entry(retirement, gender, shares):
    # Recomputed; Klein and Moeschberger print the curves (M).
    own = retirement[(retirement["gender"] == gender) & (retirement["age"] > 68 * 12)]
    curve = product_limit(own["ageentry"].clip(lower=68 * 12), own["age"], own["death"] == 1)
    np.testing.assert_allclose(curve.at(np.array([80, 85, 90, 95]) * 12), shares, rtol=CLOSE)
    # Late entry forgotten: residents would count as alive before anybody looked.
    wrong = product_limit(None, own["age"], own["death"] == 1)
    assert (wrong.at(np.array([80, 85]) * 12) > np.array(shares[:2]) + 0.05).all()


@pytest.mark.parametrize(
    ("arm", "mean", "se"),
    [
        (1, 7.146492996, 0.282774850),  # 7.146 (.283) (R: survRM2 vignette)
        (2, 7.283415761, 0.295478092),  # 7.283 (.295) (R, same)
    ],
)
def test_restricted_mean_to_ten_years(arm, mean, se):
    own = table("cirrhosis").query("trt == @arm")
    told = restricted_mean(None, own["time"] / 365.25, own["status"] == 2, 10)
    np.testing.assert_allclose(told, (mean, se), rtol=CLOSE)


def test_exact_limits_and_the_lady_who_tasted_tea():
    # Fisher (1935); Agresti, Categorical Data Analysis (M)
    assert clopper_pearson(0, 10, level=0.95) == pytest.approx((0, 0.308497108), rel=CLOSE)
    assert clopper_pearson(7, 20, level=0.95) == pytest.approx(
        (0.153909205, 0.592188535), rel=CLOSE
    )
    assert clopper_pearson(0, 0) == (0.0, 1.0)
    cups = [[3, 1], [1, 3]]
    assert fisher_exact(cups, alternative="greater").pvalue == pytest.approx(0.242857143, rel=CLOSE)
    assert fisher_exact(cups).pvalue == pytest.approx(0.485714286, rel=CLOSE)
