"""Keepers, flights, species and seasons: when they enter, and what covariates may move."""

import numpy as np
import pytest
from scenes import history_of

from cohort.base.errors import StudyError
from cohort.likelihood.exposure import packed
from cohort.model.design import model_design
from cohort.model.log_posterior import log_posterior
from cohort.model.priors import Priors
from cohort.outcomes.parameters import posterior_draws
from cohort.terms.adjusting import Adjust
from cohort.terms.levels import LEVELS, PARTS

LOOKS = ((14.0, 1, 0), (28.0, 1, 0), (42.0, 1, 1))


def lined(foundings, adjust=()):
    """The design of foundings given as (queens, columns)."""
    sets = [(k, tuple((d, k, w) for d, _, w in LOOKS)) for k, _ in foundings]
    more = {f"F{i}": {"genus": "A", **columns} for i, (_, columns) in enumerate(foundings)}
    return model_design(packed(history_of(sets, more=more)), adjust=adjust)


def both_ways(**columns):
    return [(1, columns), (3, columns)]


@pytest.mark.parametrize("name", ["keeper", "season"])
def test_two_with_both_ways_are_enough_and_one_is_not(name):
    one = [*both_ways(**{name: "x"}), (1, {name: "y"}), (1, {name: "z"})]
    design = lined(one)
    assert name not in design.levels
    assert any(f"from {name} to {name}" in note for note in design.notes)
    two = lined([*one, (2, {name: "y"})])
    assert two.levels[name].names == ("x", "y", "z")
    assert two.levels[name].index.tolist() == [0, 0, 1, 2, 1]
    assert not any(f"from {name} to {name}" in note for note in two.notes)


def test_flights_are_catches_and_those_without_one_share_a_level_of_their_own():
    design = lined(both_ways(catch="c1") + both_ways(catch="c2") + [(1, {})])
    assert design.levels["flight"].names == ("", "c1", "c2")
    assert design.levels["flight"].index.tolist() == [1, 1, 2, 2, 0]


def test_species_enter_where_two_of_a_genus_have_both_ways():
    rows = both_ways(species="x") + both_ways(species="y") + [(1, {"species": "z"})]
    rows += [*both_ways(genus="B", species="x"), (1, {"genus": "B", "species": "w"})]
    design = lined(rows)
    assert design.levels["kind_within"].names == ("", "A x", "A y")
    assert design.levels["kind_within"].index.tolist() == [1, 1, 2, 2, 0, 0, 0, 0]
    alone = lined(rows[:2] + rows[4:])
    assert "kind_within" not in alone.levels
    assert any("takes 2 species of one genus" in note for note in alone.notes)


def test_nothing_is_said_of_levels_nobody_wrote():
    notes = " ".join(lined(both_ways()).notes)
    assert "keeper" not in notes
    assert "flight to flight" not in notes
    assert "species" not in notes


def test_each_level_has_an_sd_and_effects_for_every_part_it_moves():
    rows = [
        (k, {"keeper": a, "season": b, "catch": c, "species": d})
        for a in "kl"
        for b in ("2025", "2026")
        for c in ("c1", "c2")
        for d in "xy"
        for k in (1, 3)
    ]
    design = lined(rows)
    assert list(design.levels) == [level.name for level in LEVELS]
    land = log_posterior(design, packed_of(rows), Priors())
    named = land.named(land.start(1)[None, None])
    for level in LEVELS:
        for part in level.moves:
            assert named[level.parameter(part)].dims == ("chain", "draw", level.name)
            assert f"{level.parameter(part)}_sd" in named
    assert "flight_first_worker" not in named
    assert "keeper_mated" not in named


def packed_of(rows):
    sets = [(k, tuple((d, k, w) for d, _, w in LOOKS)) for k, _ in rows]
    more = {f"F{i}": {"genus": "A", **columns} for i, (_, columns) in enumerate(rows)}
    return packed(history_of(sets, more=more))


@pytest.mark.parametrize("seasons", [("2026",), ("2025", "2026")])
def test_a_next_season_is_drawn_by_the_posterior_where_seasons_were_pooled(seasons):
    rows = [row for season in seasons for row in both_ways(season=season)]
    design, exposure = lined(rows), packed_of(rows)
    land = log_posterior(design, exposure, Priors())
    q = np.tile(land.start(2), (1, 4000, 1))
    for part, sd in (("before", 0.05), ("after", 2.0), ("first_worker", 0.5)):
        q[..., land.where[f"season_{part}_sd"]] = sd
    drawn = posterior_draws(land.named(q), design, Priors(), seed=1, draws=4000)
    got = drawn.season.std(axis=0)
    # a normal whose SD is half-normal of scale s has variance s^2
    want = (0.05, 2.0, 0.5, 0.0) if len(seasons) == 2 else (0.5, 0.5, 0.2, 0.0)
    assert got == pytest.approx(want, rel=0.08)
    ahead = drawn.in_next_season()
    assert ahead.by_draw()[:, :, 0] == pytest.approx(drawn.season + drawn.by_draw()[:, :, 0])
    assert (drawn.by_draw() == 0.0).all()


def test_covariates_move_the_parts_they_are_named_for():
    rows = both_ways(housing="tube", feeding="fed") + both_ways(housing="box", feeding="none")
    rows += [(1, {"housing": "box", "feeding": "fed"})]
    adjust = Adjust(before=("housing",), first_worker=("feeding", "housing"), mated=("feeding",))
    design = lined(rows, adjust)
    assert design.covariates == ("housing: tube v box", "feeding: none v fed")
    assert {part: design.adjusted(part).tolist() for part in PARTS} == {
        "before": [0], "after": [], "first_worker": [0, 1], "mated": [1],
    }  # fmt: skip
    land = log_posterior(design, packed_of(rows), Priors())
    named = land.named(land.start(1)[None, None])
    assert named["covariate_first_worker"].to_numpy().tolist() == list(design.covariates)
    assert "slope_after" not in named
    plain = lined(rows, ["housing"])
    assert {part: len(plain.adjusted(part)) for part in PARTS} == {
        "before": 1, "after": 1, "first_worker": 0, "mated": 0,
    }  # fmt: skip


def test_matings_seen_cannot_move_the_share_of_mated_a_second_time():
    rows = [(k, {"mating_seen": s}) for k in (1, 3) for s in (0, 1)]
    with pytest.raises(StudyError, match="take it out of mated"):
        lined(rows, Adjust(mated=("mating_seen",)))
    assert lined(rows, Adjust(before=("mating_seen",))).covariates == ("mating_seen",)
