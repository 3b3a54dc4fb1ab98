"""Curves of the model meet the numbers of the table on the days both have, for every kind."""

import pytest

from cohort.outcomes.alone import prior_outcomes
from cohort.outcomes.bands import LEFT, bands
from cohort.outcomes.quantities import Key

DAY = 60  # an edge of the curves and a day of the table


def test_every_kind_has_its_own_curve():
    post = prior_outcomes(seed=3, sizes=(1, 2, 3), horizon=120, genera=3, draws=60)
    rows = bands(post, 2)
    at = rows[rows["day"] == DAY].set_index(["curve", "genus", "arm"])["estimate"]
    assert post.kinds[-3:] == ("average", "next_season", "new")
    after = ("chance_none_left", "chance_one_left", "chance_several_left")
    wanted = {}
    for i, kind in enumerate(post.kinds):
        for arm, size in (("single", 1), ("multi", 2)):
            alive = post.values[Key("queen_survival", "share_alive", size, DAY)]
            workers = post.values[Key("first_worker", "chance_by_day", size, DAY)]
            wanted["model_queen_survival", kind, arm] = alive[:, i].mean()
            wanted["model_first_worker", kind, arm] = workers[:, i].mean()
        for curve, name in zip(LEFT, after, strict=True):
            left = post.values[Key("queens_after_workers", name, 2, DAY)]
            wanted[curve, kind, "multi"] = left[:, i].mean()
    assert set(at.index) == set(wanted)
    for row, want in wanted.items():
        assert at[row] == pytest.approx(want, abs=1e-12), row
    told = {round(at["model_queen_survival", kind, "multi"], 9) for kind in post.kinds}
    assert len(told) == len(post.kinds)  # else one kind could stand for another
