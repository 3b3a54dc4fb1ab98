"""In a study that goes through winter the lead says which side of it its day lies on."""

import dataclasses

import pytest
from made import material

from cohort.history.winters import WinterRest
from cohort.newsletter import voice
from cohort.newsletter.words import after_winter, sayings


def wintered(begins, ends):
    """An invented study all of whose foundings rest from one day to another."""
    made = material()
    rest = WinterRest((float(begins),), (float(ends),))
    names = made.history.foundings["founding"]
    history = dataclasses.replace(made.history, winters=dict.fromkeys(names, rest))
    return dataclasses.replace(made, history=history)


def test_the_same_queens_both_ways_after_the_first_winter():
    lead = next(s for s in sayings(wintered(60, 100), voice("en")) if s.topic == "fair").head
    pair, winter, *_ = lead.split(" Day ")
    assert "housed together" in pair
    assert "with each queen apart" in pair
    assert "lies after the first winter, which ends on day 100 here." in winter


def test_a_day_before_the_end_of_winter_is_not_called_after_it():
    made = wintered(60, 100)
    told = {day: after_winter(made, voice("en"), day) for day in (98, 100, 120)}
    assert told[98] == ""
    assert told[100].startswith("Day 100 ")
    assert told[120].startswith("Day 120 ")


def test_without_winter_nothing_is_said():
    assert after_winter(material(), voice("en"), 160) == ""


@pytest.mark.parametrize("language", ["de", "es", "fr"])
def test_in_each_language(language):
    text = after_winter(wintered(60, 100), voice(language), 160)
    assert "160" in text
    assert "100" in text
