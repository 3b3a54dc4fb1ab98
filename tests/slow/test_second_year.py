"""The demo's second year is compared to the end: it settles, and speaks of the second summer."""

import datetime as dt
from pathlib import Path

import pytest

import cohort
from cohort.face import material_of
from cohort.newsletter import voice
from cohort.newsletter.words import sayings

ROOT = Path(__file__).parents[2]

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def made():
    study = cohort.read_study(ROOT / "data" / "demo-second-year", today=dt.date(2026, 11, 1))
    return cohort.compare(study)


def test_it_settles_and_both_seasons_stand_in_the_model(made):
    assert made.results.settled, made.results.diagnosis["reasons"]
    assert made.fit.design.levels["season"].names == ("2025", "2026")
    assert made.fit.design.winter is not None


def test_the_lead_compares_the_same_queens_after_the_first_winter(made):
    head = next(s for s in sayings(material_of(made), voice("en")) if s.topic == "fair").head
    assert "housed together" in head
    assert "with each queen apart" in head
    assert "on day 360" in head
    assert "lies after the first winter" in head


def test_colonies_on_the_day_winter_ends_are_told_both_ways(made):
    begins, days = made.fit.design.winter
    table = made.results.comparisons
    spring = table[table["day"].eq(int(begins + days)) & table["genus"].eq("average")]
    told = set(spring["quantity"])
    assert {"chance_per_founding", "at_least_one_from_same_queens", "same_queens_any"} <= told
