"""What is said of queens seen killed: only where a killing was noted, never without the singles."""

from __future__ import annotations

import dataclasses

import pandas as pd
import pytest

from cohort.newsletter.counts import counted
from cohort.newsletter.speech import voice


def with_killed(material, killed: float, low: float = 0.19, high: float = 0.37):
    rows = [
        ("queens_killed", "multi", killed, low, high),
        ("queens_lost_otherwise", "multi", 0.28, 0.2, 0.36),
        ("queens_killed", "single", 0.0, 0.0, 0.0),
        ("queens_lost_otherwise", "single", 0.22, 0.12, 0.35),
    ]
    columns = ["curve", "arm", "estimate", "low", "high"]
    more = pd.DataFrame(rows, columns=columns).assign(genus="all", day=168.0)
    early = more.assign(day=0.0, estimate=0.0)
    curves = pd.concat([material.results.curves, early, more], ignore_index=True)
    return dataclasses.replace(
        material, results=dataclasses.replace(material.results, curves=curves)
    )


@pytest.mark.parametrize("language", ["en", "de", "es", "fr"])
def test_of_a_hundred_in_company_and_of_a_hundred_singly(demo, language):
    before = counted(demo, voice(language))
    (said,) = (s for s in counted(with_killed(demo, 0.27), voice(language)) if s not in before)
    for number in ("27", "19", "37", "28", "22", "168"):
        assert number in said
    assert said.count("100") == 2  # in company, and singly


def test_nothing_is_said_where_no_killing_was_noted(demo):
    assert counted(with_killed(demo, 0.0), voice("en")) == counted(demo, voice("en"))


def test_nothing_is_said_of_a_single_group_which_has_no_range(demo):
    alone = with_killed(demo, 0.5, float("nan"), float("nan"))
    assert counted(alone, voice("en")) == counted(demo, voice("en"))
