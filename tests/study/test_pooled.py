"""Several studies as one: numbers that clash, settings that differ, and that nothing else moves."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from cohort.base.errors import StudyError
from cohort.history import history
from cohort.simulate.design import Design
from cohort.simulate.season import simulate_study
from cohort.simulate.truth import draw_truth
from cohort.study import read_study
from cohort.study.keepers import keepers_now
from cohort.study.pool import pooled, words
from cohort.terms.adjusting import Adjust


def made(place, seed, year, **design):
    truth = draw_truth(("Lasius", "Messor"), np.random.default_rng(seed))
    layout = Design(foundings=24, first_flight=dt.date(year, 5, 10), removals=0.3, **design)
    return read_study(simulate_study(layout, truth, seed).write(place / f"{year}-{seed}"))


@pytest.fixture(scope="module")
def seasons(tmp_path_factory):
    place = tmp_path_factory.mktemp("pool")
    return made(place, 1, 2024), made(place, 2, 2025, horizon=160)


def with_settings(study, **change):
    return replace(study, settings=replace(study.settings, **change))


def test_one_study_is_given_back_as_it_is(seasons):
    whole = pooled(seasons[:1])
    assert whole.study is seasons[0]
    assert whole.notes == ()


def test_every_founding_keeps_its_history(seasons):
    whole = pooled(seasons)
    past = history(whole.study)
    assert past.horizon == 160
    assert len(past.foundings) == 48
    for i, study in enumerate(seasons):
        own = history(with_settings(study, horizon_days=160))
        mine = past.intervals[past.intervals["code"].between(24 * i, 24 * i + 23)]
        mine = mine.reset_index(drop=True).assign(code=mine["code"].to_numpy() - 24 * i)
        pd.testing.assert_frame_equal(mine, own.intervals, check_dtype=False)
        keep = ["size", "arm", "keeper", "first_after", "first_by", "end", "end_kind", "queens_end"]
        pd.testing.assert_frame_equal(
            past.foundings.iloc[24 * i : 24 * i + 24][keep].reset_index(drop=True),
            own.foundings[keep],
        )


def test_clashing_numbers_stand_behind_their_season_and_keepers_stay(seasons):
    whole = pooled(seasons)
    names = whole.study.foundings["founding"]
    assert names.is_unique
    assert set(names.str.split("/").str[0]) == {"2024", "2025"}
    assert set(whole.study.foundings["keeper"]) == set(seasons[0].foundings["keeper"])
    assert set(whole.study.checks["founding"]) <= set(names)
    assert set(whole.study.events["founding"]) <= set(names)
    assert any("more than one study" in note for note in whole.notes)
    assert any("shortest, day 160" in note for note in whole.notes)


def test_keepers_of_two_clubs_are_never_taken_for_the_same(seasons):
    first, second = seasons
    given = second.events.assign(event="handed-over", other="K9")
    given = given[given["founding"].isin(second.foundings["founding"])]
    second = replace(second, events=given)
    whole = pooled([first, second], clubs=("north", "south")).study
    clubs = whole.foundings["keeper"].str.split("/").str[0]
    assert clubs.tolist() == ["north"] * 24 + ["south"] * 24
    assert whole.foundings["founding"].str.split("/").str[0].equals(clubs)
    mine = keepers_now(whole)
    handed = set(given["founding"])
    assert set(mine[whole.foundings["founding"].isin({f"south/{f}" for f in handed})]) == {
        "south/K9"
    }
    assert "K9" not in set(mine)
    assert whole.settings.season == "2024 + 2025"
    assert not pooled([first, second]).study.foundings["keeper"].str.contains("/").any()


def test_numbers_that_do_not_clash_stay_but_blocks_of_two_seasons_never_merge(seasons):
    first, second = seasons

    def other(frame):
        return frame.assign(founding="Z" + frame["founding"].astype(str))

    second = replace(
        second,
        foundings=other(second.foundings),
        checks=other(second.checks),
        events=other(second.events),
    )
    whole = pooled([first, second]).study
    assert set(first.foundings["founding"]) <= set(whole.foundings["founding"])
    blocks = whole.foundings.groupby("block")["founding"].apply(lambda f: {n[0] for n in f})
    assert all(len(letters) == 1 for letters in blocks)


def test_a_parted_founding_is_followed_into_its_new_number(seasons):
    first, second = seasons
    frame = first.foundings.copy()
    frame.loc[3, "from_"] = frame.loc[0, "founding"]
    events = first.events.copy()
    events.loc[events.index[0], "other"] = frame.loc[3, "founding"]
    whole = pooled([replace(first, foundings=frame, events=events), second]).study
    assert whole.foundings.loc[3, "from_"] == whole.foundings.loc[0, "founding"]
    assert whole.events["other"].iloc[0] == whole.foundings.loc[3, "founding"]
    assert set(whole.events["other"].iloc[1:]) == {"given"}  # plain words stay


def test_kinds_without_a_name_in_two_studies_are_kinds_of_their_own(seasons):
    def unnamed(study):
        frame = study.foundings.copy()
        rows = frame.index[:4]
        frame.loc[rows, ["genus", "kind"]] = "dull-brown"
        frame.loc[rows, "named"] = False
        return replace(study, foundings=frame)

    whole = pooled([unnamed(s) for s in seasons])
    genera = set(whole.study.foundings["genus"])
    assert {"2024/dull-brown", "2025/dull-brown", "Lasius", "Messor"} == genera
    assert any("not yet named" in note for note in whole.notes)


def test_what_the_studies_agreed_on_differently_is_said(seasons):
    first, second = seasons
    mine = with_settings(first, adjust=Adjust.of(["housing"]), leave_out=("mites",))
    whole = pooled([mine, with_settings(second, leave_out=("boosted",))])
    assert whole.study.settings.adjust == Adjust()
    assert whole.study.settings.leave_out == ()
    assert any("adjusts for housing" in note for note in whole.notes)
    assert any("different reasons" in note for note in whole.notes)
    with pytest.raises(StudyError, match="count their days from different moments"):
        pooled([with_settings(first, clock="flight"), second])


def test_what_one_study_does_not_say_takes_nothing_from_the_other(seasons):
    first, second = seasons
    said = {
        "leave_out": ("mites",),
        "primary_question": "colony",
        "place": "river plain",
        "photo_credit": "members of the club",
    }
    blank = {**dict.fromkeys(said, ""), "leave_out": ()}
    for one, other in ((said, blank), (blank, said)):
        whole = pooled([with_settings(first, **one), with_settings(second, **other)])
        assert {name: getattr(whole.study.settings, name) for name in said} == said
        assert not any("different reasons" in note for note in whole.notes)
    both = pooled([with_settings(first, **said), with_settings(second, place="hills")])
    assert both.study.settings.place == "river plain, hills"
    # How fights were met is a fact of each study: not said of one is not said of the whole.
    fights = [with_settings(first, fight_rule="leave"), with_settings(second, fight_rule="")]
    assert pooled(fights).study.settings.fight_rule == ""


def test_looks_after_the_end_of_a_study_stay_out(seasons):
    first, second = seasons
    ended = with_settings(first, ends=dt.date(2024, 7, 1))
    whole = pooled([ended, with_settings(second, ends=dt.date(2025, 12, 1))]).study
    assert whole.settings.ends == dt.date(2025, 12, 1)
    own = whole.checks[whole.checks["founding"].str.startswith("2024/")]
    assert own["date"].max() <= pd.Timestamp("2024-07-01")
    past = history(whole)
    alone = history(with_settings(ended, horizon_days=160))
    np.testing.assert_allclose(past.foundings["end"][:24], alone.foundings["end"])


def test_two_studies_of_one_season_are_told_apart_by_a_number(seasons):
    assert words([seasons[0], seasons[0], seasons[1]]) == ("2024-1", "2024-2", "2025")


def test_the_same_study_twice_is_refused(seasons):
    with pytest.raises(StudyError, match="named twice"):
        pooled([seasons[0], seasons[0]])
    with pytest.raises(StudyError, match="at least one"):
        pooled([])


def test_studies_given_are_not_changed(seasons):
    before = seasons[0].foundings.copy()
    pooled(seasons)
    pd.testing.assert_frame_equal(seasons[0].foundings, before)
