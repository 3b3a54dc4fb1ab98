"""Numbers of the pictures, worked out by hand or held against an identity."""

from __future__ import annotations

import dataclasses
import datetime as dt

import numpy as np
import pandas as pd
import pytest

from cohort import figures
from cohort.figures import both_ways, ink
from cohort.figures.hundred import FATES, hundred_frame, whole_hundred
from cohort.figures.labels import read_labels
from cohort.figures.material import days_to_speak_of, kinds_in_order, row_of, rows_of
from cohort.figures.names import of_100
from cohort.figures.season import season_frame
from cohort.nonparametric.counts import headline_size
from cohort.nonparametric.followed import fair_day, known_to


def founding(**changes):
    base = dict(
        founding="F", genus="Lasius", named=True, size=1, arm="single", compared=True, end=180.0,
        end_kind="followed", lost_by=np.inf, first_by=np.inf, queens_end=1, started=pd.Timestamp(0),
        housing="", assigned="random", keeper="", left_out="",
    )  # fmt: skip
    return {**base, **changes}


# ------------------------------------------------------------------ the last day to speak of


def test_fair_day_is_the_eighth_longest_follow_up_of_the_shorter_way():
    single = [founding(end=float(d)) for d in (10, 20, 30, 40, 50, 60, 70, 80, 90)]
    multi = [founding(arm="multi", size=2, end=100.0) for _ in range(8)]
    table = pd.DataFrame(single + multi)
    # 8 of the nine singles were followed to day 20 or longer
    assert fair_day(table, 180) == 20
    assert fair_day(table.iloc[1:], 180) == 20
    assert fair_day(table.iloc[2:], 180) == 0


def test_a_founding_that_lost_all_queens_is_known_as_far_as_its_keepers_record_goes():
    day = pd.Timestamp("2025-07-01")
    lost = dict(lost_by=12.0, end=12.0, end_kind="all lost")
    table = pd.DataFrame(
        [founding(**lost, started=day, keeper="K1"),
         # K1's record goes on to day 100 of a founding begun 20 days later: calendar day 120
         founding(end=100.0, started=day + dt.timedelta(days=20), keeper="K1"),
         # K2 has nothing later than its own loss
         founding(**lost, started=day, keeper="K2"),
         # a record beyond the horizon is cut there
         founding(**lost, started=day, keeper="K3"),
         founding(end=170.0, started=day + dt.timedelta(days=60), keeper="K3")]
    )  # fmt: skip
    assert list(known_to(table, 180)) == [120, 100, 12, 180, 170]


def test_early_losses_alone_do_not_make_a_day_well_followed():
    lost = dict(lost_by=12.0, end=12.0, end_kind="all lost")
    table = pd.DataFrame(
        [founding(**lost) for _ in range(20)]
        + [founding(arm="multi", size=2, end=170.0, keeper="other") for _ in range(20)]
    )
    assert fair_day(table, 180) == 12


def test_a_founding_cut_at_the_horizon_is_known_to_it_one_that_was_given_away_is_not():
    table = pd.DataFrame(
        [founding(end=177.0, end_kind="horizon"), founding(end=150.0, end_kind="given"),
         founding(end=175.0, end_kind="followed")]
    )  # fmt: skip
    assert list(known_to(table, 180)) == [180, 150, 180]


def test_foundings_left_out_do_not_count():
    table = pd.DataFrame([founding(compared=False)] * 8 + [founding(arm="multi", size=2)] * 8)
    assert fair_day(table, 180) == 0


def test_headline_size_is_the_commonest_and_the_smaller_on_a_tie():
    sizes = [1, 2, 2, 3, 3, 4]
    table = pd.DataFrame([founding(size=k) for k in sizes])
    assert headline_size(table) == 2
    assert headline_size(pd.DataFrame([founding()])) == 0


def test_kinds_are_ordered_by_foundings_then_name():
    table = pd.DataFrame([founding(genus=g) for g in ("B", "A", "C", "C")])
    assert [k.genus for k in kinds_in_order(table)] == ["C", "A", "B"]


# ------------------------------------------------------------------ a hundred queens


@pytest.mark.parametrize("seed", range(30))
def test_whole_hundreds_add_up_and_stay_within_one(seed):
    counts = np.random.default_rng(seed).integers(0, 40, 5).astype(float)
    counts[0] += 1
    whole = whole_hundred(counts)
    assert whole.sum() == 100
    assert np.all(np.abs(whole - counts / counts.sum() * 100) < 1)


def test_rounding_each_share_alone_would_not_add_up():
    counts = np.array([1.0, 1.0, 1.0])
    assert sum(of_100(c / 3) for c in counts) == 99
    assert sorted(whole_hundred(counts)) == [33, 33, 34]


def test_of_100_rounds_halves_up():
    assert [of_100(x) for x in (0.005, 0.125, 0.995, -0.205)] == [1, 13, 100, -20]


def test_every_queen_has_one_fate(demo):
    frame = hundred_frame(demo)
    inside = demo.history.foundings.query("compared")
    for way, part in frame.groupby("way"):
        assert part["queens"].sum() == inside.loc[inside["arm"] == way, "size"].sum()
        assert part["of_100"].sum() == 100
        assert tuple(part["fate"]) == FATES


def test_fates_by_hand(demo):
    """Three queens: one lost on day 10, first worker seen on day 40, one lost by day 50."""
    table = pd.DataFrame(
        [founding(arm="multi", size=3, first_by=40.0, queens_end=1),
         founding(first_by=np.inf, queens_end=1),
         founding(end_kind="given", queens_end=1, first_by=30.0)]
    )  # fmt: skip
    intervals = pd.DataFrame(
        {"code": [0, 0, 0], "after": [0.0, 10.0, 40.0], "by": [10.0, 40.0, 50.0],
         "at_risk": [3, 2, 2], "alive": [2, 2, 1], "lost": [1, 0, 1]}
    )  # fmt: skip
    history = dataclasses.replace(demo.history, foundings=table, intervals=intervals)
    frame = hundred_frame(dataclasses.replace(demo, history=history))
    got = {(r.way, r.fate): r.queens for r in frame.itertuples() if r.queens}
    assert got == {
        ("multi", "colony"): 1,
        ("multi", "before"): 1,
        ("multi", "after"): 1,
        ("single", "waiting"): 1,
        ("single", "away"): 1,
    }


# ------------------------------------------------------------------ season


def test_season_shows_every_founding_every_loss_and_every_first_worker(demo):
    frame = season_frame(demo)
    history = demo.history
    assert set(frame["founding"]) == set(history.foundings["founding"])
    losses = frame[frame["what"].isin(["loss", "all_lost"])]
    assert losses["queens"].sum() == history.intervals["lost"].sum()
    assert (frame["what"] == "first_worker").sum() == np.isfinite(
        history.foundings["first_by"]
    ).sum()


def test_season_bars_cover_the_intervals_and_hold_their_queens(demo):
    frame = season_frame(demo)
    bars = frame[frame["what"] == "bar"]
    days = (bars["stop"] - bars["start"]).dt.days
    intervals = demo.history.intervals
    assert (days * bars["queens"]).sum() == pytest.approx(
        ((intervals["by"] - intervals["after"]) * intervals["at_risk"]).sum()
    )


def test_queens_taken_out_alive_are_marked(demo):
    """Three counted on day 10, two at risk from there: one was taken out, none was lost."""
    table = pd.DataFrame([founding(arm="multi", size=3, queens_end=2, entry=0.0, entry_queens=3)])
    table["species"] = ""
    intervals = pd.DataFrame(
        {"code": [0, 0], "after": [0.0, 10.0], "by": [10.0, 40.0], "at_risk": [3, 2],
         "alive": [3, 2], "lost": [0, 0]}
    )  # fmt: skip
    history = dataclasses.replace(demo.history, foundings=table, intervals=intervals)
    frame = season_frame(dataclasses.replace(demo, history=history))
    taken = frame[frame["what"] == "taken"]
    assert taken["queens"].tolist() == [1]
    assert (taken["start"] - table["started"].iloc[0]).dt.days.tolist() == [10]
    assert not (season_frame(demo)["what"] == "taken").any()


def test_bars_are_as_thick_as_queens_were_alive(demo):
    from matplotlib.collections import PatchCollection

    from cohort.figures import season

    frame = season_frame(demo)
    with ink.style():
        figure = season.draw_season(frame, 175, read_labels("en"))
    axes = next(
        a for a in figure.axes if any(isinstance(c, PatchCollection) for c in a.collections)
    )
    high = {
        round(float(np.ptp(path.vertices[:, 1])), 6)
        for c in axes.collections if isinstance(c, PatchCollection) for path in c.get_paths()
    }  # fmt: skip
    queens = sorted(set(frame.loc[frame["what"] == "bar", "queens"]) - {0})
    most = max(high)
    assert sorted(high)[-len(queens) :] == pytest.approx([most * q / max(queens) for q in queens])


def test_within_a_kind_and_way_colonies_stand_above_losses(demo):
    frame = season_frame(demo)
    lost = frame[frame["what"] == "all_lost"].groupby(["genus", "way"])["rank"].min()
    inside = frame[frame["compared"] & ~frame["founding"].isin(
        frame.loc[frame["what"] == "all_lost", "founding"])]  # fmt: skip
    kept = inside.groupby(["genus", "way"])["rank"].max()
    both = lost.index.intersection(kept.index)
    assert len(both)
    assert (lost[both] > kept[both]).all()


# ------------------------------------------------------------------ curves and comparisons


def test_nothing_is_drawn_beyond_the_fair_day(demo):
    history = demo.history
    cut = history.foundings.copy()
    cut["end"] = cut["end"].clip(upper=70)
    cut["end_kind"], cut["lost_by"] = "followed", np.inf
    short = dataclasses.replace(demo, history=dataclasses.replace(history, foundings=cut))
    ready = figures.numbers(short)
    assert ready["queen_survival"].frame["day"].max() <= 70
    assert ready["both_ways"].frame["day"].max() == 60
    assert figures.numbers(demo)["both_ways"].frame["day"].max() == 180


def test_the_fair_pair_is_shown_with_equal_queens(demo):
    frame = figures.numbers(demo)["both_ways"].frame
    table = demo.results.comparisons
    assert frame.groupby(["genus", "panel", "source"])["way"].nunique().eq(2).all()
    size = frame["queens"].iloc[0]
    for row in frame[(frame["panel"] == "any") & (frame["source"] == "model")].itertuples():
        quantity = {"multi": "chance_per_founding", "single": "at_least_one_from_same_queens"}
        hit = table[(table["quantity"] == quantity[row.way]) & (table["genus"] == row.genus)
                    & (table["reading"] == "seen")
                    & (table["arm"] == row.way) & (table["queens"] == size)
                    & (table["day"] == row.day)]  # fmt: skip
        assert row.estimate == hit["mean"].item()
    order = list(dict.fromkeys(frame.loc[frame["panel"] != "folded", "genus"]))
    assert (order[0], order[-1]) == ("average", "new")


def test_counted_marks_are_the_same_queens_drawn_from_those_counted(demo):
    frame = figures.numbers(demo)["both_ways"].frame
    mine = frame[(frame["source"] == "counted") & (frame["panel"] != "folded")]
    assert len(mine)
    inside = demo.history.foundings.query("compared")
    for row in mine.itertuples():
        size = 1 if row.way == "single" else row.queens
        of = inside[(inside["genus"] == row.genus) & (inside["size"] == size)]
        of = of[known_to(inside, 180)[of.index] >= row.day]
        assert row.foundings == len(of)
        has = int(((of["first_by"] <= row.day) & (of["lost_by"] > row.day)).sum())
        share = has / len(of)
        if row.panel == "count":
            assert row.estimate == pytest.approx(share * (row.queens if size == 1 else 1))
        elif size > 1:
            assert row.estimate == pytest.approx(share)
        else:  # 1 - (1 - share)^k is what it comes to of very many
            assert share - 1e-12 <= row.estimate <= 1
            assert row.estimate >= 1 - (1 - share) ** row.queens - 1e-12


def test_kinds_with_few_foundings_are_folded_and_none_is_lost(make):
    genera = tuple(f"Genus{chr(97 + i)}" for i in range(12))
    frame = figures.numbers(make(genera=genera, per=8))["both_ways"].frame
    folded = set(frame.loc[frame["panel"] == "folded", "genus"])
    shown = set(frame.loc[frame["panel"] != "folded", "genus"]) - {"average", "new"}
    assert folded | shown == set(genera)
    assert not folded & shown
    assert len(shown) <= both_ways.MOST_KINDS
    few = figures.numbers(make(genera=("Lasius", "Messor", "Formica"), per=4))["both_ways"]
    assert few.reason  # six of each way in all
    assert frame.loc[frame["panel"] == "folded", "estimate"].isna().all()


def test_a_number_of_foundings_is_the_same_in_every_picture(demo):
    """Of the groups of any size so many have the size spoken of; each is told where it is used."""
    ready = figures.numbers(demo)
    inside = demo.history.foundings.query("compared")
    groups = int((inside["arm"] == "multi").sum())
    any_ = ready["both_ways"].frame.query("panel == 'any' and genus == 'average'")
    told = any_.set_index("way")
    assert told.loc["multi", "together"] == groups
    assert told.loc["multi", "foundings"] == (inside["size"] == told["queens"].iloc[0]).sum()
    flow = ready["flow"].frame.set_index("step")
    assert flow.loc["multi", "foundings"] == groups
    assert flow.loc["single", "foundings"] == told.loc["single", "foundings"]
    first = ready["first_days"].frame.groupby(["genus", "way"])["foundings"].first()
    assert first.unstack()["multi"].sum() == groups
    season = ready["season"].frame.query("compared")
    assert season.loc[season["way"] == "multi", "founding"].nunique() == groups
    for language in ("en", "de", "es", "fr"):
        with ink.style():
            figure = both_ways.draw_both_ways(ready["both_ways"].frame, 85, read_labels(language))
        assert str(groups) in " ".join(t.get_text() for t in ink.texts(figure))


def test_one_kind_has_no_pooled_row(make):
    frame = figures.numbers(make(genera=("Lasius",), per=24))["both_ways"].frame
    assert set(frame["genus"]) == {"Lasius"}


def test_queens_left_add_up_to_all_groups(demo):
    frame = figures.numbers(demo)["queens_left"].frame
    assert (frame[["none", "one", "several"]].sum(axis=1) == frame["groups"]).all()
    pooled, kinds = frame.iloc[0], frame.iloc[1:]
    assert pooled["genus"] == "all"
    assert kinds["groups"].sum() <= pooled["groups"] <= pooled["with_workers"]


def test_a_shut_gate_leaves_counts_alone(make):
    ready = figures.numbers(make(shut=True))
    made = {name for name, d in ready.items() if not d.reason}
    assert {"season", "flow", "catches", "hundred", "first_days", "queen_survival"} <= made
    assert not {"both_ways", "how_sure", "expected"} & made
    survival = ready["queen_survival"].frame
    assert set(survival["source"]) == {"counted"}


def test_what_is_missing_is_said(make):
    ready = figures.numbers(make(multi=False, workers=False, catches=False))
    assert ready["catches"].reason
    assert ready["first_days"].reason == "no founding had workers"
    assert "eight foundings" in ready["queen_survival"].reason
    assert ready["catches"].frame.empty


@pytest.mark.parametrize("name", ["queen_survival", "first_worker"])
def test_only_a_band_pushed_through_the_same_looks_lies_over_a_line_dated_at_looks(demo, name):
    """The smooth curve for new foundings is dated at the event: it must not stand there."""
    frame = next(p for p in figures.PICTURES if p.name == name).frame(demo)
    band = frame[frame["source"] == "model"]
    assert set(band["genus"]) == set(frame["genus"])
    curves = demo.results.curves
    right = curves[curves["curve"] == f"replicated_{name}"].set_index(["genus", "arm", "day"])
    wrong = curves[curves["curve"] == f"model_{name}"]
    assert (wrong["high"] < 0.01).all()  # would be seen at once
    counted = frame[frame["source"] == "counted"].groupby(["genus", "way"])["day"].max()
    for row in band.itertuples():
        assert row.day <= counted[row.genus, row.way]
    for row in band[band["day"] < 170].itertuples():
        there = right.loc[(row.genus, row.way, row.day)]
        assert (row.low, row.estimate, row.high) == (there["low"], there["estimate"], there["high"])


def test_a_study_of_single_queens_is_not_told_of_groups(make):
    """The keys of season chart and first days speak of ways that are there."""
    from cohort.figures import ink, svg
    from cohort.figures.labels import ENGLISH

    for multi in (True, False):
        material = make(multi=multi, seed=7)
        for name in ("season", "first_days"):
            picture = next(p for p in figures.PICTURES if p.name == name)
            with ink.style():
                drawn = ink.as_svg(picture.draw(picture.frame(material), 175, ENGLISH), "x", "x")
            words = " ".join(svg.words(drawn))
            assert (ENGLISH.multi in words) == multi
            assert (ENGLISH.loss in words) == (multi and name == "season")


def test_a_narrow_name_keeps_its_brackets_together():
    from cohort.figures.rows import wrap

    assert wrap("kind Aa (not yet named)", True) == "kind Aa\n(not yet named)"
    assert wrap("kind Aa (not yet named)", False) == "kind Aa (not yet named)"


# ------------------------------------------------------------------ rows that are looked up


def test_a_row_is_told_in_the_reading_that_is_spoken_of(demo):
    size = 3
    for quantity, headline in (
        ("same_queens_any", "seen"),
        ("chance_per_founding", "seen"),
        ("chance_lasting", "alike"),
        ("share_alive", ""),
    ):
        arm = "difference" if quantity == "same_queens_any" else "multi"
        row = row_of(demo, quantity, "average", arm, size, 90)
        assert row["reading"] == headline
    other = row_of(demo, "same_queens_any", "average", "difference", size, 90, "mated-first")
    assert other["reading"] == "mated-first"
    assert (
        other["mean"] < row_of(demo, "same_queens_any", "average", "difference", size, 90)["mean"]
    )
    assert row_of(demo, "share_alive", "average", "multi", size, 90, "seen") is None
    assert len(rows_of(demo, "colonies_per_queen", "average", "multi", size)) == 3  # days


def test_a_kind_is_spoken_of_as_far_as_it_was_followed(demo):
    cut = demo.history.foundings.copy()
    short = cut["genus"] == "Messor"
    cut.loc[short, "end"] = cut.loc[short, "end"].clip(upper=70)
    cut.loc[short, "end_kind"], cut.loc[short, "lost_by"] = "followed", np.inf
    less = dataclasses.replace(demo, history=dataclasses.replace(demo.history, foundings=cut))
    assert days_to_speak_of(less, "chance_per_founding", "Messor") == [60]
    assert days_to_speak_of(less, "chance_per_founding", "Lasius") == [60, 90, 180]
    for of_all in ("average", "new"):
        assert days_to_speak_of(less, "chance_per_founding", of_all) == [60, 90, 180]
    assert days_to_speak_of(less, "chance_per_founding", "Nobody") == []
