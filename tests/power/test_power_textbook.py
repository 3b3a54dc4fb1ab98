"""The textbook size, to the digits that were recomputed.

9.1 of the reference checks: surviving .75 against .37, 80 % power, 5 % two-sided. Schoenfeld (1981,
doi:10.1093/biomet/68.1.316) and Freedman (1982, doi:10.1002/sim.4780010204); printed figures
read: Schoenfeld 20.39 events, 47 subjects; Freedman 26 events, 59 subjects.
"""

import math

import pytest
from scipy.stats import norm

from cohort.power.textbook import textbook


def test_schoenfeld_and_freedman_to_the_digits():
    found = textbook(0.75, 0.37)
    assert found.schoenfeld_events == pytest.approx(20.41407594, abs=5e-9)
    assert found.schoenfeld_subjects == pytest.approx(46.39562713, abs=5e-9)
    # recomputed as 25.83619817 elsewhere; its own subjects x .44 are 25.83619814, as here
    assert found.freedman_events == pytest.approx(58.71863214 * 0.44, abs=5e-9)
    assert found.freedman_events == pytest.approx(25.83619817, rel=1e-8)
    assert found.freedman_subjects == pytest.approx(58.71863214, abs=5e-9)
    printed = (found.schoenfeld_subjects, found.freedman_events, found.freedman_subjects)
    assert [math.ceil(x) for x in printed] == [47, 26, 59]


def test_the_printed_events_come_of_rounded_quantiles():
    # 20.39 for 20.414: (1.96 + .84)^2 for 7.8489, as tables were used
    ratio = math.log(0.37) / math.log(0.75)
    assert 4 * (1.96 + 0.84) ** 2 / math.log(ratio) ** 2 == pytest.approx(20.39, abs=0.005)


def test_which_group_is_named_first_changes_nothing():
    one, other = textbook(0.37, 0.75), textbook(0.75, 0.37)
    assert one.schoenfeld_events == pytest.approx(other.schoenfeld_events)
    assert one.freedman_subjects == pytest.approx(other.freedman_subjects)


def test_more_power_and_smaller_errors_take_more():
    plain = textbook(0.75, 0.37).schoenfeld_events
    assert textbook(0.75, 0.37, power=0.9).schoenfeld_events > plain
    assert textbook(0.75, 0.37, alpha=0.01).schoenfeld_events > plain
    z = (norm.ppf(0.95) + norm.ppf(0.8)) ** 2 / (norm.ppf(0.975) + norm.ppf(0.8)) ** 2
    assert textbook(0.75, 0.37, alpha=0.1).schoenfeld_events == pytest.approx(z * plain)


@pytest.mark.parametrize(("one", "other"), [(0.5, 0.5), (0.0, 0.5), (1.0, 0.5), (0.5, 1.0)])
def test_there_is_no_size_where_there_is_nothing_to_find(one, other):
    assert textbook(one, other) is None
