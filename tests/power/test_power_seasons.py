"""Seasons simulated for their power: files, what they say together, and what is refused."""

import json
import math
import os
import time
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from cohort.base import tasks
from cohort.base.errors import StudyError
from cohort.base.telling import Far, heard_by
from cohort.outcomes import outcomes
from cohort.outcomes.known import known_draws
from cohort.power import Wish, power, words
from cohort.power import run as run_module
from cohort.power.replicate import (
    Replicate,
    contrast_of,
    no_difference,
    pair,
    prior_range,
    replicate,
)
from cohort.power.run import needed, seasons, summary, width_law
from cohort.power.wish import WORDS, check, contrasts, read_effect, truth_of
from cohort.simulate.known import known_outcomes
from cohort.terms.questions import headline_reading
from cohort.terms.voice import languages

WISH = Wish(3, (1, 3), {"together": 2.0})


def made_up(wish, foundings, seed):
    """A season without a fit: a normal estimate whose spread falls with the root of foundings."""
    rng = np.random.default_rng([seed, foundings])
    se, truth = 1.2 / math.sqrt(foundings), -0.3
    mean = truth + se * rng.normal()
    low, high = mean - 1.6449 * se, mean + 1.6449 * se
    return Replicate(
        seed, foundings, mean, low, high, truth, not low <= 0 <= high, high < 0, 0.9, 0.7, 1.0, 0.1
    )


@pytest.fixture
def quick(monkeypatch):
    calls = []

    def counted(wish, foundings, seed):
        calls.append((foundings, seed))
        return made_up(wish, foundings, seed)

    monkeypatch.setattr(run_module, "replicate", counted)
    return calls


@pytest.fixture
def met_by(monkeypatch):
    """Has something done just before the first file is put in place."""

    def meets(other):
        usual, waiting = os.replace, [other]

        def replace(draft, path):
            if waiting:
                waiting.pop()()
            usual(draft, path)

        monkeypatch.setattr(os, "replace", replace)

    return meets


def test_two_runs_in_one_folder_do_not_break_each_other(quick, met_by, tmp_path):
    seasons(WISH, (24,), 1, tmp_path)
    met_by(lambda: seasons(WISH, (24,), 2, tmp_path))
    found = seasons(WISH, (24,), 3, tmp_path)
    assert found["seed"].tolist() == [1, 2, 3]
    there = sorted(p.name for p in (tmp_path / "foundings-24").iterdir())
    assert there == [f"season-{seed:05d}.json" for seed in (1, 2, 3)]


def test_drafts_of_runs_long_ended_are_cleared(quick, tmp_path):
    seasons(WISH, (24,), 1, tmp_path)
    place = tmp_path / "foundings-24"
    for name, age in (("season-00009.part", 7200), ("season-00003.json.1f.part", 60)):
        (place / name).write_text("{")
        os.utime(place / name, (time.time() - age,) * 2)
    seasons(WISH, (24,), 3, tmp_path)
    assert {p.name for p in place.glob("*.part")} == {"season-00003.json.1f.part"}


def test_each_season_is_a_file_and_none_is_done_twice(quick, tmp_path):
    out = tmp_path / "seasons"
    first = seasons(WISH, (24, 48), 3, out)
    assert len(quick) == 6
    assert (out / "foundings-24" / "season-00001.json").exists()
    again = seasons(WISH, (24, 48), 5, out)
    assert len(quick) == 10  # four more
    assert again[again["seed"] <= 3].reset_index(drop=True).equals(first)


def test_a_file_broken_off_is_done_again(quick, tmp_path):
    out = tmp_path / "seasons"
    seasons(WISH, (24,), 2, out)
    (out / "foundings-24" / "season-00002.json").write_text('{"seed": 2, "fou', "utf-8")
    seasons(WISH, (24,), 2, out)
    assert quick.count((24, 2)) == 2


def test_a_folder_of_another_wish_or_of_other_files_is_refused(quick, tmp_path):
    out = tmp_path / "seasons"
    seasons(WISH, (24,), 1, out)
    with pytest.raises(StudyError, match="another effect"):
        seasons(replace(WISH, effect={"together": 3.0}), (24,), 1, out)
    (tmp_path / "mine.txt").write_text("x", "utf-8")
    with pytest.raises(StudyError, match="holds other files"):
        seasons(WISH, (24,), 1, tmp_path)


def test_a_damaged_wish_is_named_and_nothing_is_done(quick, tmp_path):
    seasons(WISH, (24,), 1, tmp_path)
    (tmp_path / run_module.DESIGN).write_text('{"genera": 3, "sp', "utf-8")
    with pytest.raises(StudyError, match=r"wish\.json is damaged: it cannot be read"):
        seasons(WISH, (24,), 2, tmp_path)
    assert len(quick) == 1


def test_progress_is_told(quick, tmp_path):
    told, heard = [], []
    with heard_by(heard.append):
        seasons(WISH, (24,), 2, tmp_path / "s", say=told.append)
        seasons(WISH, (24,), 3, tmp_path / "s", say=told.append)
    assert told == [
        "Simulating and comparing 2 seasons",
        "2 of 3 seasons were done before",
        "Simulating and comparing 1 season",
    ]
    assert heard == [Far(1, 2), Far(2, 2), Far(3, 3)]


def test_power_and_width_are_those_of_the_normal_estimate(quick, tmp_path):
    found = power(WISH, (24, 96), 60, tmp_path / "s", width=0.5)
    table = found.table.set_index("foundings")
    for n in (24, 96):
        se = 1.2 / math.sqrt(n)
        from scipy.stats import norm

        wanted = norm.cdf(0.3 / se - 1.6449) + norm.cdf(-0.3 / se - 1.6449)
        assert abs(table.loc[n, "power"] - wanted) < 4 * table.loc[n, "power_se"]
        assert table.loc[n, "width"] == pytest.approx(2 * 1.6449 * se)
        assert abs(table.loc[n, "coverage"] - 0.9) < 4 * math.sqrt(0.09 / 60)
    assert found.slope == pytest.approx(-0.5)
    assert found.needed == math.ceil((2 * 1.6449 * 1.2 / 0.5) ** 2)
    said = " ".join(words.sentences(found))
    assert "Schoenfeld" in said
    assert "the two looks it lies between" in said
    assert json.loads(json.dumps(words.as_json(found)))["foundings_needed"] == found.needed
    for language in languages():
        own = words.speaks(language)
        told = (words.title(found, own), *words.sentences(found, own))
        assert not any("{" in text for text in told)
        assert {len(row) for row in words.rows(found, own)} == {len(words.headings(own))}
    assert words.sentences(found, words.speaks("de"))[0] == (
        f"Ein wahrscheinlicher Bereich von 0,50 Breite braucht etwa {found.needed} Gründungen."
    )


def test_seasons_that_did_not_settle_are_counted_and_left_out():
    good, bad = made_up(WISH, 24, 1), replace(made_up(WISH, 24, 2), rhat=1.4, low=-9.0, high=9.0)
    row = summary(pd.DataFrame([vars(good), vars(bad)])).iloc[0]
    assert row["unsettled"] == 1
    assert row["seasons"] == 1
    assert row["width"] == pytest.approx(good.high - good.low)


def test_one_number_of_foundings_goes_by_the_root_and_far_numbers_are_not_told():
    slope, level = width_law(pd.DataFrame({"foundings": [25], "width": [0.4]}))
    assert slope == -0.5
    assert needed(slope, level, 0.2, 25) == 100
    assert needed(slope, level, 0.1, 25) is None


@pytest.mark.parametrize(
    "contrast", ["same_queens_any", "chance_lasting", "share_alive", "hazard_ratio"]
)
def test_the_contrast_of_a_truth_is_that_of_the_event_simulator(contrast):
    wish = replace(WISH, contrast=contrast, horizon=120)
    truth = truth_of(wish, 4)
    said = contrast_of(outcomes(known_draws([truth]), wish.sizes, wish.horizon), wish).item()
    known = known_outcomes(truth, wish.sizes, wish.horizon, foundings=20_000)
    rows = known[
        (known["quantity"] == contrast)
        & (known["reading"] == headline_reading(contrast))
        & (known["genus"] == "average")
        & known["arm"].isin(("difference", "ratio"))
        & (known["queens"] == 3)
    ]
    row = rows.sort_values("day").iloc[-1]
    assert abs(said - row["truth"]) < 4 * max(row["se"], 1e-3)


def test_genera_differ_by_seed_and_not_at_all_without_spread():
    a, b = truth_of(WISH, 1), truth_of(WISH, 2)
    assert a != b
    assert truth_of(WISH, 1) == a
    alike = truth_of(replace(WISH, spread=0.0), 1).genera
    assert len(set(alike.values())) == 1
    assert alike["Lasius"].together == pytest.approx(math.log(2))


def test_no_difference_lies_at_one_for_ratios():
    assert no_difference(WISH) == 0.0
    assert no_difference(replace(WISH, contrast="hazard_ratio")) == 1.0


def test_the_priors_alone_favour_singles_of_the_same_queens():
    low, high = prior_range(WISH)  # wider since less is assumed of company and of hazards
    assert low < -0.2
    assert high < -low


def test_the_textbook_pair_is_the_same_queens_both_ways():
    single, multi = pair(outcomes(known_draws([truth_of(WISH, 1)]), (1, 3), 180), WISH)
    assert 0 < multi < single < 1


def test_an_effect_is_read_by_name_and_a_number_alone_is_company():
    assert read_effect("2") == {"together": 2.0}
    assert read_effect("together=2, takes-both=.3") == {"together": 2.0, "takes-both": 0.3}
    with pytest.raises(StudyError, match="not a name with a number"):
        read_effect("together=much")


@pytest.mark.parametrize(
    ("change", "foundings", "says"),
    [
        ({"genera": 0}, (24,), "--genera"),
        ({"genera": 99}, (24,), "--genera"),
        ({"sizes": (3,)}, (24,), "--split"),
        ({"sizes": (1, 40)}, (24,), "--split"),
        ({}, (4,), "too few"),
        ({"effect": {"togther": 2.0}}, (24,), "Did you mean 'together'"),
        ({"effect": {"takes-both": 1.5}}, (24,), "share"),
        ({"effect": {"together": -1.0}}, (24,), "cannot be"),
        ({"contrast": "same_queens_an"}, (24,), "Did you mean 'same_queens_any'"),
    ],
)
def test_a_study_that_cannot_be_is_refused_in_plain_words(change, foundings, says):
    with pytest.raises(StudyError, match=says):
        check(replace(WISH, **change), foundings)


def test_a_cluster_needs_its_extra_or_an_address_that_answers(quick, tmp_path, monkeypatch):
    monkeypatch.setattr(tasks, "ANSWERS", 0.5)
    with pytest.raises(StudyError, match=r"extra 'cluster'|No scheduler answers"):
        seasons(WISH, (24,), 1, tmp_path / "s", scheduler="tcp://127.0.0.1:1")


def test_every_contrast_that_may_be_named_has_a_value():
    made = outcomes(known_draws([truth_of(WISH, 1)]), (1, 3), 120)
    for name in contrasts():
        assert np.isfinite(contrast_of(made, replace(WISH, contrast=name, horizon=120))).all()


def test_words_enough_for_all_genera():
    assert len(set(WORDS)) == 12


def test_a_real_season_is_simulated_and_fitted():
    wish = replace(WISH, effect={"together": 4.0}, horizon=120)
    first, again, second = (replicate(wish, 24, seed) for seed in (1, 1, 2))
    assert first.rhat < 1.05
    assert first.low < first.mean < first.high
    assert replace(again, seconds=first.seconds) == first  # the same seed, the same season
    assert second.truth != first.truth
