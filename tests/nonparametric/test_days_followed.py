"""To which day a study and each of its kinds may be spoken of, by hand."""

import numpy as np
import pandas as pd
import pytest

from cohort.nonparametric.followed import (
    fair_day,
    followed_share,
    kind_days,
    known_to,
    last_given,
    reach,
    typical_first,
)

HORIZON = 180


def founding(genus, arm, end, **changes):
    base = dict(
        founding="F", genus=genus, arm=arm, size=1 if arm == "single" else 3, compared=True,
        end=float(end), end_kind="given", lost_by=np.inf, started=pd.Timestamp("2025-07-01"),
        keeper="K1", first_by=np.inf,
    )  # fmt: skip
    return {**base, **changes}


def both(genus, ends, **changes):
    return [founding(genus, arm, end, **changes) for arm in ("single", "multi") for end in ends]


@pytest.fixture
def study():
    """Lasius well followed; Messor four of each way; Formica three; Myrmica long, beyond others."""
    return pd.DataFrame(
        both("Lasius", [100, 110, 120, 130, 140])
        + both("Messor", [50, 60, 70, 80])
        + both("Formica", [150, 150, 150])
        + both("Myrmica", [170, 170, 170, 170])
    )


def test_a_study_speaks_as_far_as_eight_of_each_way(study):
    # of each way, longest first: 170 x 4, 150 x 3, 140 | 130, ...
    assert fair_day(study, HORIZON) == 140


def test_a_kind_speaks_as_far_as_four_of_its_own_and_never_further_than_the_study(study):
    assert kind_days(study, HORIZON) == {
        "Formica": 0,  # three of each way
        "Lasius": 110,  # the fourth longest of five
        "Messor": 50,
        "Myrmica": 140,  # its own four reach 170, the study 140
    }
    assert fair_day(study, HORIZON, genus="Lasius") == 110
    assert fair_day(study, HORIZON, genus="Tetramorium") == 0


def test_both_ways_of_a_kind_must_reach_the_day(study):
    one = study[~((study["genus"] == "Lasius") & (study["arm"] == "multi") & (study["end"] < 120))]
    assert fair_day(one, HORIZON, genus="Lasius") == 0  # three trios left
    left_out = study.assign(compared=(study["genus"] != "Messor") | (study["end"] > 50))
    assert "Messor" in kind_days(left_out, HORIZON)
    assert kind_days(left_out, HORIZON)["Messor"] == 0


def test_a_founding_of_a_kind_that_lost_all_is_known_as_far_as_its_keeper_looked_at_any(study):
    lost = {"lost_by": 9.0, "end_kind": "all lost"}
    more = pd.DataFrame(both("Tapinoma", [9] * 4, **lost) + both("Pheidole", [9] * 4, **lost,
                                                                 keeper="K2"))  # fmt: skip
    whole = pd.concat([study, more], ignore_index=True)
    # K1 looked at others to day 170, so four lost early are known to there; K2 had nothing else
    days = kind_days(whole, HORIZON)
    assert days["Tapinoma"] == fair_day(whole, HORIZON)
    assert days["Pheidole"] == 9
    assert known_to(whole, HORIZON).iloc[-1] == 9


def test_share_of_kinds_that_reach_a_day(study):
    days = kind_days(study, HORIZON)
    assert followed_share(days, 60) == 0.5
    assert followed_share(days, 50) == 0.75
    assert followed_share(days, 140) == 0.25
    assert followed_share({}, 60) == 0.0


def test_what_is_told_of_a_study(study):
    told = reach(study, HORIZON)
    assert told["fair_day"] == 140
    assert told["kind_days"] == kind_days(study, HORIZON)
    # colonies are given for days 60, 90 and 180, so all kinds speak at day 90: Lasius and Myrmica
    # were followed to it
    assert told["followed_share"] == 0.5
    nobody = reach(study[study["arm"] == "single"], HORIZON)
    assert nobody["fair_day"] == nobody["followed_share"] == 0
    assert set(nobody["kind_days"].values()) == {0}


def test_the_last_day_given_is_not_beyond_the_last_followed():
    assert last_given((60, 90, 160), 140) == 90
    assert last_given((60, 90, 160), 160) == 160
    assert last_given((60, 90, 160), 59) == 0


def test_middle_day_of_first_workers_is_of_its_groups_else_of_all():
    table = pd.DataFrame(
        [founding("Lasius", "multi", 90, first_by=float(d)) for d in (40, 50, 70)]
        + [founding("Messor", "multi", 90, first_by=80.0)]
        + [founding("Formica", "multi", 90), founding("Lasius", "single", 90, first_by=10.0)]
    )
    assert typical_first(table, "Lasius") == 50
    assert typical_first(table, "Messor") == 80
    assert typical_first(table, "Formica") == typical_first(table) == 60
    assert typical_first(table[table["genus"] == "Formica"]) == 0.0
