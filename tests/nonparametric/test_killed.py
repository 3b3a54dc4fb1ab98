"""Queens seen killed: worked by hand, and summed against the survival curve."""

from __future__ import annotations

import pytest
from small_study import small_study

from cohort.history import history
from cohort.nonparametric import curves
from cohort.nonparametric.killed import killed_incidence, killed_queens

LINES = {
    "A": "3 | 10 3/0, 20 2/0, 30 1/1, 40 1/5",
    "B": "3 | 10 2/0, 20 2/0, 30 2/1, 40 0/5",
    "C": "1 | 10 1/0, 20 1/0, 40 0/0",
}
EVENTS = [
    ("A", 20, "killed", 1, "queens"),
    ("A", 25, "killed", None, ""),
    ("B", 30, "killed", 1, "unknown"),  # the look of day 30 still counted her
    ("B", 15, "killed", 3, "workers"),
    ("C", 40, "fight", None, ""),
]


def test_killings_go_to_the_losses_they_explain() -> None:
    study = small_study(LINES, EVENTS)
    past = history(study)
    killed = killed_queens(study, past)
    lost = past.intervals["lost"].to_numpy()
    assert killed.sum() == 3
    assert (killed <= lost).all()
    told = past.intervals.assign(killed=killed)
    assert told.loc[told["killed"] > 0, ["code", "by"]].to_numpy().tolist() == [
        [0, 20], [0, 30], [1, 40]
    ]  # fmt: skip


def test_incidence_by_hand() -> None:
    """Six queens in groups, none leaves: shares are counts.

    Day 10 one lost unseen (B), day 20 one killed (A), day 30 one killed (A), day 40 one killed
    and one lost unseen (B). Product-limit with nobody censored before day 40 is plain counting.
    """
    study = small_study(LINES, EVENTS)
    table = killed_incidence(study, history(study), seed=1, resamples=50)
    multi = table[(table["genus"] == "all") & (table["arm"] == "multi")]
    killed = multi[multi["curve"] == "queens_killed"]
    other = multi[multi["curve"] == "queens_lost_otherwise"]
    assert killed["day"].tolist() == [0, 10, 20, 30, 40]
    assert killed["estimate"].tolist() == pytest.approx([0, 0, 1 / 6, 2 / 6, 3 / 6])
    assert other["estimate"].tolist() == pytest.approx([0, 1 / 6, 1 / 6, 1 / 6, 2 / 6])
    assert killed["at_risk"].tolist() == [6, 6, 5, 4, 3]
    single = table[(table["genus"] == "all") & (table["arm"] == "single")]
    assert single.loc[single["curve"] == "queens_killed", "estimate"].max() == 0
    assert single.loc[single["curve"] == "queens_lost_otherwise", "estimate"].max() == 1


def test_both_causes_and_survival_share_one_unit() -> None:
    more = [*EVENTS, ("A", 20, "queens-out", 1, "given")]
    lines = LINES | {"A": "3 | 10 3/0, 20 2/0, 30 1/1, 40 1/5", "D": "2 | 5 2/0, 20 1/0"}
    study = small_study(lines, more)
    past = history(study)
    table = killed_incidence(study, past, seed=1, resamples=20)
    survival = curves(past, seed=1, resamples=20)
    survival = survival[(survival["curve"] == "queen_survival") & (survival["genus"] == "all")]
    alive = survival[survival["arm"] == "multi"].set_index("day")["estimate"]
    both = table[(table["genus"] == "all") & (table["arm"] == "multi")]
    lost = both.groupby("day")["estimate"].sum()
    for day, share in lost.items():
        assert share + alive[day] == pytest.approx(1.0), day
    assert lost.iloc[-1] > 0.5


def test_without_a_killing_there_is_no_curve() -> None:
    study = small_study(LINES, [("A", 15, "killed", 4, "workers")])
    assert killed_incidence(study, history(study), seed=1).empty


def test_one_group_alone_has_no_band() -> None:
    study = small_study({"A": LINES["A"], "C": LINES["C"]}, EVENTS[:1])
    table = killed_incidence(study, history(study), seed=1, resamples=20)
    later = table[(table["genus"] == "all") & (table["day"] > 0)]
    assert later["estimate"].max() > 0
    assert later[["low", "high"]].isna().all(axis=None)
